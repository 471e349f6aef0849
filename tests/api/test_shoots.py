import asyncio
from collections.abc import Callable
from typing import Any

import httpx
import pytest

from controller.daemon import Rig
from controller.words.documents import ENDED, Shoot
from tests.support.serving import PLAN


async def start(client: httpx.AsyncClient, **tables: Any) -> str:
    started = await client.post("/api/v1/shoots", json={"plan": PLAN | tables})
    assert started.status_code == 201
    shoot = Shoot.model_validate(started.json())
    assert started.headers["location"] == f"/api/v1/shoots/{shoot.id}"
    return started.headers["location"]


async def until(client: httpx.AsyncClient, at: str, wanted: Callable[[str], bool]) -> str:
    """The state of the shoot, once it is one that is wanted: some orders are carried out after their answer."""
    for _ in range(500):
        if wanted(state := (await client.get(at)).json()["state"]):
            return str(state)
        await asyncio.sleep(0.02)
    raise AssertionError(f"the shoot stays {state}")


async def test_a_shoot_is_started_from_a_kept_plan_held_resumed_and_stopped(
    client: httpx.AsyncClient, rig: Rig
) -> None:
    await client.post("/api/v1/plans", json=PLAN)
    started = await client.post("/api/v1/shoots", json={"plan": PLAN["name"]})
    assert (started.status_code, started.json()["plan_name"]) == (201, PLAN["name"])
    at = started.headers["location"]
    held = await client.post(f"{at}/hold")
    assert (held.status_code, held.json()["state"]) == (200, "held")
    assert (await client.post(f"{at}/hold")).json()["state"] == "held"
    assert (await client.get(at)).json()["state"] == "held"
    assert len(await rig.store.notes(at.rpartition("/")[2], kind="held")) == 1
    resumed = await client.post(f"{at}/resume")
    assert resumed.status_code == 200
    assert await until(client, at, lambda state: state != "held") not in ENDED
    assert (await client.post(f"{at}/stop")).status_code == 200
    assert await until(client, at, ENDED.__contains__) == "stopped"
    assert [shoot["state"] for shoot in (await client.get("/api/v1/shoots")).json()] == ["stopped"]


async def test_what_the_present_state_forbids_is_409(client: httpx.AsyncClient) -> None:
    at = await start(client)
    await until(client, at, lambda state: state != "waiting")
    busy = await client.post("/api/v1/shoots", json={"plan": PLAN})
    assert (busy.status_code, busy.json()["code"]) == (409, "rig-busy")
    await client.post(f"{at}/stop")
    await until(client, at, ENDED.__contains__)
    for order, body in (
        ("hold", None),
        ("resume", None),
        ("stop", None),
        ("pace", {"to_s": 9}),
        ("light", {"bias_ev": 1}),
    ):
        answer = await client.post(f"{at}/{order}", json=body)
        assert (answer.status_code, answer.json()["code"]) == (409, "shoot-ended")
        assert answer.json()["remedy"]


async def test_unknown_shoots_are_404(client: httpx.AsyncClient) -> None:
    for path in ("hold", "resume", "stop"):
        answer = await client.post(f"/api/v1/shoots/none/{path}")
        assert (answer.status_code, answer.json()["code"]) == (404, "no-such-shoot")
    assert (await client.get("/api/v1/shoots/none")).status_code == 404
    assert (await client.get("/api/v1/shoots/none/frames")).status_code == 404
    assert (await client.get("/api/v1/shoots/none/frames", headers={"Accept": "text/csv"})).status_code == 404


async def test_pace_and_light_change_while_shooting(client: httpx.AsyncClient) -> None:
    at = await start(client, light={"kind": "follow", "shutter_s": [0.001, 3], "iso": [100, 1600], "aperture": 5.6})
    paced = await client.post(f"{at}/pace", json={"to_s": 9.0, "over_s": 2400})
    assert paced.status_code == 200
    assert paced.json()["adjust"]["pace"]["to_s"] == 9.0
    assert (await client.get(at)).json()["adjust"] == paced.json()["adjust"]
    lit = await client.post(f"{at}/light", json={"bias_ev": -0.5, "iso": [100, 1600]})
    assert lit.status_code == 200
    assert lit.json()["adjust"]["bias_ev"] == -0.5
    assert lit.json()["adjust"]["pace"]["to_s"] == 9.0


async def test_a_change_of_the_light_that_names_nothing(client: httpx.AsyncClient) -> None:
    at = await start(client)
    answer = await client.post(f"{at}/light", json={})
    assert (answer.status_code, answer.json()["code"]) == (422, "nothing-to-change")
    assert "bias_ev" in answer.json()["remedy"]


@pytest.mark.parametrize(
    ("call", "body", "where"),
    [
        ("pace", {}, "body"),
        ("pace", {"to_s": 0}, "body.to_s"),
        ("pace", {"to_s": -1}, "body.to_s"),
        ("pace", {"to_s": "soon"}, "body.to_s"),
        ("pace", {"to_s": 5, "over_s": -1}, "body.over_s"),
        ("pace", {"to_s": 5, "by": 3}, "body.by"),
        ("light", {"bias_ev": 99}, "body.bias_ev"),
        ("light", {"iso": [1600, 100]}, "body.iso"),
        ("light", {"iso": [100]}, "body.iso.1"),
        ("light", {"iso": [0, 100]}, "body.iso.0"),
    ],
)
async def test_a_change_without_sense_is_refused_and_changes_nothing(
    client: httpx.AsyncClient, call: str, body: dict[str, Any], where: str
) -> None:
    at = await start(client)
    before = (await client.get(at)).json()["adjust"]
    answer = await client.post(f"{at}/{call}", json=body)
    assert (answer.status_code, answer.json()["code"], answer.json()["where"]) == (422, "bad-request", where)
    assert (await client.get(at)).json()["adjust"] == before
