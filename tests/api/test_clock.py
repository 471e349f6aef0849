"""The rig's clock over REST: what is known of it, and a person's word for it."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest

from api import create_app
from controller.daemon import Rig
from controller.decide.clock_trust import MADE_UTC
from controller.words.clock import WallClock
from controller.words.times import iso
from tests.api.conftest import NOWHERE
from tests.support.rigs import camera_there
from tests.support.simcam import start_simulated_camera

NOW = MADE_UTC + 40 * 86_400.0


class Machine(WallClock):
    def machine_utc(self) -> float:
        return 1000.0


async def test_a_phone_is_believed_and_the_network_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(tmp_path, Machine(), [NOWHERE])
    await rig.open()
    transport = httpx.ASGITransport(create_app(rig), raise_app_exceptions=False)
    async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
        before = (await client.get("/api/v1/clock")).json()
        assert (before["state"], before["kept_by"], before["windows_wait"]) == ("wrong", None, True)
        assert (await client.get("/api/v1/now")).json()["clock"]["state"] == "wrong"
        told = await client.post("/api/v1/clock", json={"utc": iso(NOW)})
        assert (told.status_code, told.json()["state"], told.json()["kept_by"]) == (200, "right", "phone")
        assert rig.clock.utc() == pytest.approx(NOW, abs=60)
        monkeypatch.setattr("controller.engine.facts.machine.synchronised", lambda root: True)
        await rig.time.look()
        kept = await client.post("/api/v1/clock", json={"utc": iso(NOW)})
        assert (kept.status_code, kept.json()["code"]) == (409, "clock-kept")
    await rig.close()


async def test_a_cameras_clock_is_taken_on_a_persons_word(tmp_path: Path) -> None:
    """As libgphoto2 tells it: ptp2's datetime, in whole seconds."""
    with start_simulated_camera(tmp_path, epoch_utc=iso(NOW)) as camera:
        rig = Rig(tmp_path / "rig", Machine(), [camera.address])
        await rig.open()
        await camera_there(rig)
        transport = httpx.ASGITransport(create_app(rig), raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            told = await client.post("/api/v1/clock", json={"camera": "camera-1"})
            assert (told.status_code, told.json()["kept_by"]) == (200, "camera"), told.text
            off_s = rig.dials.clock_off_s("camera-1")
            assert off_s == pytest.approx(0.0, abs=0.1)
            assert rig.clock.utc() > MADE_UTC
        await rig.close()


@pytest.mark.parametrize(
    ("told", "status", "code"),
    [
        ({}, 422, "bad-request"),
        ({"utc": "2026-12-01T12:00:00Z", "camera": "camera-1"}, 422, "bad-request"),
        ({"utc": "2026-12-01T12:00:00"}, 422, "bad-request"),
        ({"utc": "1999-12-01T12:00:00Z"}, 422, "bad-time"),
        ({"utc": 1e300}, 422, "bad-time"),
        ({"utc": "2026-12-01T12:00:00Z"}, 409, "clock-kept"),  # the test's rig runs on a clock of its own
        ({"camera": "camera-1"}, 422, "no-camera-clock"),
        ({"camera": "camera-9"}, 404, "no-such-camera"),
    ],
)
async def test_what_cannot_be_taken(client: httpx.AsyncClient, told: object, status: int, code: str) -> None:
    answer = await client.post("/api/v1/clock", json=told)
    assert (answer.status_code, answer.json()["code"], bool(answer.json()["remedy"])) == (status, code, True)


@pytest.mark.parametrize("utc", ["yesterday", "2026-12-01T12:00:00"])
async def test_a_time_that_is_none_is_told_with_one_that_is(client: httpx.AsyncClient, utc: str) -> None:
    problem = (await client.post("/api/v1/clock", json={"utc": utc})).json()
    told = f"'{utc}' is no time with its offset from UTC, such as 2026-12-03T17:20:05Z"
    assert (problem["detail"], problem["where"]) == (told, "body.utc")
