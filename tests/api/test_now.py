import asyncio

import httpx
import pytest

from controller.daemon import Rig
from controller.words.documents import CameraNow, Now
from controller.words.times import iso
from tests.support.rigs import EVENING_UTC, plan, until
from tests.support.serving import PLAN


async def test_now_is_one_document(client: httpx.AsyncClient) -> None:
    idle = Now.model_validate((await client.get("/api/v1/now")).json())
    assert idle.shoot is None
    started = (await client.post("/api/v1/shoots", json={"plan": PLAN})).json()
    answer = await client.get("/api/v1/now")
    assert answer.headers["cache-control"] == "no-store"
    assert answer.json()["utc"].endswith("Z")
    now = Now.model_validate(answer.json())
    assert now.shoot is not None
    assert now.shoot.id == started["id"]
    assert now.heading is None
    assert now.attention, "there is no camera, and that is said"


async def test_the_sun_without_a_shoot(client: httpx.AsyncClient, rig: Rig) -> None:
    async def seen() -> tuple[float | None, float | None]:
        now = Now.model_validate((await client.get("/api/v1/now")).json())
        if now.sun_altitude_deg is None:
            return None, now.moon_altitude_deg
        sky = {"latitude": PLAN["site"]["latitude"], "longitude": PLAN["site"]["longitude"]}
        there = (await client.get("/api/v1/sky", params=sky)).json()["now"]
        return now.sun_altitude_deg - there["sun_altitude_deg"], now.moon_altitude_deg

    assert await seen() == (None, None)
    await client.put("/api/v1/defaults", json={"site": PLAN["site"]})
    apart, moon = await seen()
    assert apart == pytest.approx(0, abs=0.2)  # the clock goes on between the two
    assert moon is not None
    far = PLAN["site"] | {"latitude": -PLAN["site"]["latitude"]}
    await client.put("/api/v1/defaults", json={"site": far})
    assert abs((await seen())[0] or 0) > 5
    later = PLAN | {"when": {"start": "now+5h", "duration": "1h"}}
    shoot = (await client.post("/api/v1/shoots", json={"plan": later})).json()
    assert (await seen())[0] == pytest.approx(0, abs=0.2)  # where the shoot is that waits
    await client.post(f"/api/v1/shoots/{shoot['id']}/stop")
    await until(lambda: not rig.shoots.runs)
    assert abs((await seen())[0] or 0) > 5
    await client.put("/api/v1/defaults", json={})
    assert (await seen())[0] == pytest.approx(0, abs=0.2)  # where the last one was


async def test_cameras(client: httpx.AsyncClient, rig: Rig) -> None:
    await until(lambda: rig.cameras()[0].trouble != "the camera is being connected")
    (camera,) = (CameraNow.model_validate(camera) for camera in (await client.get("/api/v1/cameras")).json())
    assert not camera.connected
    assert "does not answer" in str(camera.trouble)


async def test_healthz_tells_watchers(client: httpx.AsyncClient, rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    well = await client.get("/healthz")
    assert (well.status_code, well.json()["ok"]) == (200, True)
    monkeypatch.setattr(rig, "healthz", lambda: {"ok": False, "failed": ["s1"]})
    ill = await client.get("/healthz")
    assert (ill.status_code, ill.json()) == (503, {"ok": False, "failed": ["s1"]})


async def test_the_schema_names_every_call_and_the_problem(client: httpx.AsyncClient) -> None:
    schema = (await client.get("/openapi.json")).json()
    calls = {f"{method.upper()} {path}" for path, methods in schema["paths"].items() for method in methods}
    # What version 1 promises.
    assert calls == {
        "GET /api/v1/now",
        "GET /api/v1/events",
        "GET /api/v1/clock",
        "POST /api/v1/clock",
        "GET /api/v1/plans",
        "POST /api/v1/plans",
        "GET /api/v1/plans/{name}",
        "PUT /api/v1/plans/{name}",
        "DELETE /api/v1/plans/{name}",
        "POST /api/v1/plans/{name}/rehearsal",
        "POST /api/v1/rehearsal",
        "POST /api/v1/forecast",
        "GET /api/v1/sky",
        "POST /api/v1/plans/{name}/copy",
        "POST /api/v1/plans/{name}/rename",
        "GET /api/v1/plans/{name}/versions",
        "GET /api/v1/plans/{name}/versions/{sha256}",
        "GET /api/v1/defaults",
        "PUT /api/v1/defaults",
        "GET /api/v1/plans/{name}/forecast",
        "GET /api/v1/plan-schema",
        "POST /api/v1/shoots",
        "GET /api/v1/shoots",
        "GET /api/v1/shoots/{shoot}",
        "POST /api/v1/shoots/{shoot}/hold",
        "POST /api/v1/shoots/{shoot}/resume",
        "POST /api/v1/shoots/{shoot}/stop",
        "POST /api/v1/shoots/{shoot}/pace",
        "POST /api/v1/shoots/{shoot}/light",
        "POST /api/v1/shoots/{shoot}/effect",
        "GET /api/v1/shoots/{shoot}/frames",
        "GET /api/v1/shoots/{shoot}/frames/troubles",
        "GET /api/v1/shoots/{shoot}/report",
        "GET /api/v1/shoots/{shoot}/report.html",
        "GET /api/v1/shoots/{shoot}/clips",
        "POST /api/v1/shoots/{shoot}/clips",
        "GET /api/v1/shoots/{shoot}/clips/{name}",
        "GET /api/v1/frames/{frame}/preview.jpg",
        "GET /api/v1/cameras",
        "GET /api/v1/cameras/{camera}/settings",
        "PUT /api/v1/cameras/{camera}/settings",
        "GET /api/v1/cameras/{camera}/live.mjpeg",
        "GET /api/v1/cameras/{camera}/focus",
        "POST /api/v1/cameras/{camera}/test-frame",
        "GET /api/v1/cameras/{camera}/test-frame.jpg",
        "GET /api/v1/check",
        "POST /api/v1/check",
        "GET /api/v1/cameras/{camera}/timing",
        "POST /api/v1/cameras/{camera}/beat",
        "GET /api/v1/session",
        "POST /api/v1/session",
        "DELETE /api/v1/session",
        "POST /api/v1/invitations",
        "GET /api/v1/sessions",
        "POST /api/v1/sessions",
        "DELETE /api/v1/sessions/{session}",
        "GET /api/v1/copies",
        "POST /api/v1/copies/again",
        "GET /api/v1/messages",
        "POST /api/v1/messages/test",
        "GET /healthz",
        "GET /metrics",
    }
    assert {"Now", "Shoot", "Frame", "CameraNow", "Problem"} <= schema["components"]["schemas"].keys()
    for methods in schema["paths"].values():
        for call in methods.values():
            assert "application/problem+json" in call["responses"]["default"]["content"]


async def test_a_shoot_that_checks_its_camera_still_says_when_it_begins(rig: Rig, client: httpx.AsyncClient) -> None:
    light = {"kind": "follow", "aperture": 2.8}
    when = {"start": iso(EVENING_UTC + 100), "duration": "10min"}
    await rig.start_shoot(plan(light=light, when=when))
    async with asyncio.timeout(10):
        while (now := (await client.get("/api/v1/now")).json())["shoot"]["state"] != "checking":
            await asyncio.sleep(0.02)
    assert now["next_release_utc"] == iso(EVENING_UTC + 100)
    assert 0 < now["start_in_s"] <= 100
