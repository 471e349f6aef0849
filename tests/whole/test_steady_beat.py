"""The shortest interval that a body holds, from REST through libgphoto2 to the simulated camera."""

from __future__ import annotations

import asyncio
from pathlib import Path

import httpx
import pytest

from controller.daemon import Rig
from controller.words.bodies import BeatFound
from controller.words.errors import Conflict
from tests.support.bodies import beat
from tests.support.rigs import Evening, camera_there, ended, plan, rows, until
from tests.support.serving import serving

CAMERA = "/api/v1/cameras/camera-1"


async def known_to_hold(rig: Rig, held_s: float) -> None:
    """An earlier beat with these files, so that this one begins near to what the camera can."""
    await camera_there(rig)
    opened = rig.links[0].opened
    assert opened is not None
    await rig.store.put_beat(opened.model, opened.serial, beat(held_s, files="JPG"))


async def test_it_is_what_the_camera_can_do(tmp_path: Path) -> None:
    """It reads out for 0.1 s, and writes for 0.3 s behind a buffer of two: a frame every 0.3 s, on paper.

    Where the machine has no time for the rig, intervals fail that the camera would hold; none that it cannot is held.
    """
    evening = Evening()
    with evening.camera(tmp_path, readout=0.1, write=0.3, buffer=2) as camera:
        async with evening.rig(tmp_path, camera.address) as rig, serving(rig) as (url, _):
            await known_to_hold(rig, 0.36)
            async with httpx.AsyncClient(base_url=url, timeout=300) as phone:
                wanted = asyncio.create_task(phone.post(f"{CAMERA}/beat", json={"exposure_s": 1 / 128}))
                await until(camera.record)
                again = await phone.post(f"{CAMERA}/beat")
                assert (again.status_code, again.json()["code"]) == (409, "shoot-has-camera")
                answer = await wanted
                assert answer.status_code == 200, answer.text
                told = (await phone.get(f"{CAMERA}/timing")).json()
        found = BeatFound.model_validate(answer.json())
        taken = camera.record()
    assert found.held_s is not None
    assert found.failed_s is not None
    assert 0.28 <= found.held_s <= 1.0
    assert 0.15 <= found.failed_s < found.held_s
    assert found.cause
    assert (found.frames, found.files, found.exposure_s) == (len(taken), "JPG", 1 / 128)
    assert all(frame["written"] for frame in taken)
    assert told["beats"] == [answer.json()]
    assert told["safe"]["step_s"] == pytest.approx(1.2 * found.held_s)


async def test_a_shoot_that_comes_meanwhile_has_the_camera(tmp_path: Path) -> None:
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await known_to_hold(rig, 3.0)
            looking = asyncio.create_task(rig.looking.beat("camera-1", 1 / 64, None))
            await until(camera.record)
            shoot = await rig.start_shoot(plan(1.0, when={"start": "now", "frames": 3}))
            with pytest.raises(Conflict, match="frames come first"):
                await looking
            before = len(camera.record())
            with pytest.raises(Conflict):
                await rig.looking.beat("camera-1", 1 / 64, None)
            await ended(rig, shoot)
            log = await rows(rig, shoot)
        taken = camera.record()
    got = [frame for frame in log if frame.state != "missed"]
    assert before <= 8
    assert len(got) == len(taken) - before
    assert {frame.state for frame in got} <= {"written", "fetched"}
