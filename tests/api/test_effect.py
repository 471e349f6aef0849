"""A change looked at before it is made, over REST: figures worked out by hand, and nothing changed."""

from __future__ import annotations

from typing import Any

import httpx
import pytest

from controller.words.times import from_iso
from tests.api.test_shoots import start, until

ROOMY = {
    "when": {"start": "now", "duration": "2h"},
    "pace": {"kind": "steady", "interval_s": 10.0},
    "light": {"kind": "fixed", "shutter_s": 1.0, "aperture": 5.6, "iso": 200},
}


async def look(client: httpx.AsyncClient, at: str, **change: Any) -> dict[str, Any]:
    answer = await client.post(f"{at}/effect", json=change)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


async def begun(client: httpx.AsyncClient, **tables: Any) -> str:
    at = await start(client, **ROOMY | tables)
    await until(client, at, lambda state: state != "waiting")
    return at


async def test_a_steady_shoot_by_hand_and_nothing_is_changed(client: httpx.AsyncClient) -> None:
    """Two hours: 720 slots 10 s apart, twice as many 5 s apart; 600 seconds are 60 slots of 10 s.

    Slots that pass meanwhile are missed, since no camera is there, so a busy machine has a few less.
    """
    at = await begun(client)
    before = (await client.get(at)).json()
    bare = (await client.post(f"{at}/effect")).json()
    assert bare["stands"] == bare["then"]
    stands = bare["stands"]
    assert (stands["frames"], stands["interval_s"], stands["windows"]) == (pytest.approx(720, abs=30), 10.0, 1)
    assert stands["clip_s"] == pytest.approx(stands["frames"] / 25, abs=0.01)
    assert from_iso(stands["end_utc"]) == pytest.approx(from_iso(before["stop_utc"]), abs=1)
    faster = await look(client, at, pace={"to_s": 5.0})
    assert faster["then"]["frames"] == pytest.approx(2 * faster["stands"]["frames"], rel=0.01)
    assert faster["then"]["interval_s"] == 5.0
    held = await look(client, at, hold_s=600)
    assert held["then"]["frames"] == pytest.approx(held["stands"]["frames"] - 60, abs=1)
    over = (await look(client, at, stop=True))["then"]
    assert (over["frames"], over["frames_to_come"], over["windows"], over["limits"]) == (0, 0, 0, [])
    assert (await client.get(at)).json()["adjust"] == before["adjust"] == {}


@pytest.mark.parametrize(
    ("call", "body"),
    [
        ("pace", {"to_s": 1.2}),
        ("pace", {"to_s": 90_000}),
        ("pace", {"to_s": 5, "over_s": 90_000}),
        ("light", {"bias_ev": 1}),
        ("light", {}),
    ],
)
async def test_the_same_is_refused_as_where_the_change_is_made(
    client: httpx.AsyncClient, call: str, body: dict[str, float]
) -> None:
    at = await begun(client)
    made = await client.post(f"{at}/{call}", json=body)
    looked = await client.post(f"{at}/effect", json={call: body})
    assert (looked.status_code, looked.json()) == (422, made.json())


async def test_held_for_a_time_it_stands_as_it_will_go_on(client: httpx.AsyncClient) -> None:
    """An hour of the two: 360 slots 10 s apart."""
    at = await begun(client)
    before = (await look(client, at, hold_s=3600))["then"]
    held = (await client.post(f"{at}/hold", json={"for_s": 3600})).json()
    assert held["state"] == "held"
    assert from_iso(held["held_until_utc"]) == pytest.approx(from_iso(held["created_utc"]) + 3600, abs=60)
    stands = await look(client, at)
    assert stands["stands"] == stands["then"]
    assert stands["stands"]["frames"] == pytest.approx(before["frames"], abs=2) == pytest.approx(360, abs=30)
    now = (await client.get("/api/v1/now")).json()
    assert now["frames_left"] == pytest.approx(stands["stands"]["frames_to_come"], abs=2)
    assert now["shoot"]["held_until_utc"] == held["held_until_utc"]
    more = (await look(client, at, hold_s=5400))["then"]
    assert more["frames"] == pytest.approx(180, abs=30)
    at_once = (await look(client, at, hold_s=0))["then"]
    assert at_once["frames"] == pytest.approx(720, abs=30)
    plain = (await client.post(f"{at}/hold")).json()
    assert (plain["state"], plain["held_until_utc"]) == ("held", None)
    assert (await look(client, at))["stands"]["frames"] == pytest.approx(720, abs=30)
    for bad in (0, -1, 1e9, "soon"):
        assert (await client.post(f"{at}/hold", json={"for_s": bad})).json()["where"] == "body.for_s"


@pytest.mark.parametrize(
    ("call", "body"),
    [
        ("pace", {}),
        ("pace", {"to_s": 5, "to": "plan"}),
        ("light", {"bias_ev": 1, "to": "plan"}),
    ],
)
async def test_a_way_back_stands_alone(client: httpx.AsyncClient, call: str, body: dict[str, object]) -> None:
    at = await begun(client)
    made = await client.post(f"{at}/{call}", json=body)
    looked = await client.post(f"{at}/effect", json={call: body})
    assert (made.status_code, looked.status_code) == (422, 422)
    assert made.json()["detail"] == looked.json()["detail"]
    assert "plan" in made.json()["detail"]


async def test_back_to_the_plans_own_pace(client: httpx.AsyncClient) -> None:
    at = await begun(client)
    changed = await client.post(f"{at}/pace", json={"to_s": 5.0})
    assert changed.json()["adjust"]["pace"]["to_s"] == 5.0
    back = await look(client, at, pace={"to": "plan"})
    assert back["then"]["frames"] == pytest.approx(back["stands"]["frames"] / 2, rel=0.01)
    assert (await client.get(at)).json()["adjust"] == changed.json()["adjust"]
    for _ in range(2):  # done twice is done once
        assert (await client.post(f"{at}/pace", json={"to": "plan"})).json()["adjust"] == {}
    assert (await look(client, at))["then"]["interval_s"] == 10.0


async def test_back_to_the_plans_own_light(client: httpx.AsyncClient) -> None:
    follow = {"kind": "follow", "shutter_s": [0.0005, 8.0], "iso": [100, 3200], "aperture": [5.6, 5.6]}
    at = await begun(client, light=follow)
    await client.post(f"{at}/pace", json={"to_s": 12.0})
    await client.post(f"{at}/light", json={"bias_ev": -1, "iso": [100, 400]})
    assert (await client.post(f"{at}/effect", json={"light": {"to": "plan"}})).status_code == 200
    assert list((await client.post(f"{at}/light", json={"to": "plan"})).json()["adjust"]) == ["pace"]


async def test_no_shoot_nothing_to_look_at(client: httpx.AsyncClient) -> None:
    at = await begun(client)
    assert (await client.post(f"{at}/effect", json={"hold_s": -1})).json()["where"] == "body.hold_s"
    assert (await client.post("/api/v1/shoots/none/effect", json={})).json()["code"] == "no-such-shoot"
    await client.post(f"{at}/stop")
    await until(client, at, lambda state: state == "stopped")
    assert (await client.post(f"{at}/effect", json={})).json()["code"] == "shoot-ended"


async def test_a_shoot_without_an_end_has_no_sums(client: httpx.AsyncClient) -> None:
    at = await begun(client, when={"start": "now"})
    stands = (await look(client, at))["stands"]
    for name in ("frames", "frames_to_come", "clip_s", "end_utc", "windows", "window_end_utc", "interval_s"):
        assert stands[name] is None
