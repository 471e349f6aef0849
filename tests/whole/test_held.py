"""A hold that ends by itself, over a restart too, and test frames meanwhile: no slot is risked, no file mistaken."""

from __future__ import annotations

import asyncio
import itertools
from pathlib import Path

import pytest

from controller.daemon import Rig
from controller.engine.passed import NOT_RUNNING
from controller.words.documents import Frame, FrameState, Note, Shoot, ShootState
from controller.words.errors import CameraError, Conflict
from controller.words.looking import TestFrame
from tests.support.rigs import Evening, camera_there, ended, plan, rows, until
from tests.whole.truth import LATE, compare, missed

INTERVAL_S = 1.0


async def begun(rig: Rig, frames: int = 7, done: int = 3) -> Shoot:
    """A shoot of so many frames, some of which are done."""
    await camera_there(rig)
    shoot = await rig.start_shoot(plan(INTERVAL_S, when={"start": "now", "frames": frames}))
    await until(lambda: rig.shoots.runs[shoot.id].book.counts.done >= done)
    return shoot


async def resting(rig: Rig) -> Shoot:
    """One that is held, its last frames through."""
    shoot = await begun(rig)
    await rig.shoots.hold(shoot.id)
    await until(lambda: not rig.shoots.runs[shoot.id].book.open_frames())
    return shoot


async def through(rig: Rig, shoot: Shoot) -> tuple[Shoot, list[Frame], list[Note]]:
    """It once it has ended, with its whole log and all notes."""
    shoot = await ended(rig, shoot)
    return shoot, await rows(rig, shoot), await rig.store.notes(shoot.id)


async def try_out(rig: Rig, shutter_s: float = 0.2) -> TestFrame:
    """A test frame, as soon as the last slots' frames are through."""
    async with asyncio.timeout(60):
        while True:
            try:
                return await rig.looking.test_frame("camera-1", shutter_s)
            except Conflict as refused:
                if refused.code not in ("frames-on-their-way", "shoot-has-camera"):
                    raise
                await asyncio.sleep(0.05)


def well_apart(log: list[Frame]) -> None:
    """No two releases are closer than the interval, but for what one of them was late."""
    released = [frame for frame in log if frame.released_utc is not None and frame.cause not in LATE]
    for before, after in itertools.pairwise(released):
        assert after.due_utc - before.due_utc >= INTERVAL_S - 0.002


@pytest.mark.parametrize("maker", ["generic", "nikon", "canon"])
async def test_a_test_frame_in_a_hold_that_ends_by_itself(tmp_path: Path, maker: str) -> None:
    """The first slot after it loses its connection: its file is found beyond the test frame's on the card."""
    evening = Evening()
    with evening.camera(tmp_path, maker=maker, files="raw+jpeg") as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await begun(rig)
            with pytest.raises(Conflict, match="a shoot has this camera"):
                await rig.looking.test_frame("camera-1")
            held = await rig.shoots.hold(shoot.id, 12.0)
            assert held.held_until_utc == pytest.approx(evening.clock.utc() + 12.0, abs=1.0)
            assert held.hold_s == 12.0
            last_seq = rig.shoots.runs[shoot.id].slots.progress.seq  # type: ignore[union-attr]
            await until(lambda: not rig.shoots.runs[shoot.id].book.open_frames())
            camera.control("script", words="ok drop ok")
            frame = await try_out(rig)
            with pytest.raises(Conflict, match=r"the shoot goes on in .* a test frame of this exposure takes up to"):
                await rig.looking.test_frame("camera-1", 4.0)
            shoot, log, notes = await through(rig, shoot)
        compare(log, camera, notes)
        taken = {file.rpartition("/")[2]: shot for shot in camera.record() for file in shot["files"]}
    assert shoot.state is ShootState.DONE
    assert (shoot.hold_s, shoot.held_until_utc) == (None, None)
    assert taken[frame.camera_files[0].rpartition("/")[2]]["shutter_s"] == pytest.approx(frame.shutter_s)
    assert (frame.aperture, frame.iso) == (log[0].aperture, log[0].iso), "what the next slot would have"
    assert not [row for row in log if row.state == "lost"]
    after = next(row for row in log if row.seq > last_seq)
    assert held.held_until_utc <= after.due_utc <= held.held_until_utc + INTERVAL_S + 1.0
    assert [note.text for note in notes if note.kind == "resumed"] == ["goes on by itself after a hold"]
    well_apart(log)


async def test_a_frame_that_is_lost_is_not_given_the_test_frames_file(tmp_path: Path) -> None:
    """It came seconds before, which file times alone do not tell apart."""
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await resting(rig)
            camera.control("script", words="ok drop+unwritten ok")
            frame = await try_out(rig)
            await rig.shoots.resume(shoot.id)
            shoot, log, notes = await through(rig, shoot)
        compare(log, camera, notes)
    assert [row.state for row in log].count(FrameState.LOST) == 1
    assert not {row.camera_file for row in log} & set(frame.camera_files)


async def test_a_camera_that_is_lost_under_a_test_frame(tmp_path: Path) -> None:
    """Its file is found and is nobody's; those of the slots before it stay theirs."""
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await resting(rig)
            camera.control("script", words="cut ok")
            with pytest.raises(CameraError):
                await try_out(rig)
            await camera_there(rig)
            await rig.shoots.resume(shoot.id)
            shoot, log, notes = await through(rig, shoot)
        compare(log, camera, notes)
    assert not [row for row in log if row.state == "lost"]
    well_apart(log)


async def test_going_on_waits_for_the_end_of_a_test_frame(tmp_path: Path) -> None:
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await begun(rig)
            await rig.shoots.hold(shoot.id)
            frame = asyncio.create_task(try_out(rig, 2.0))
            await until(lambda: camera.control("now")["exposing"] and rig.shoots.runs[shoot.id].holding.lent)
            with pytest.raises(Conflict, match="a test frame is being taken"):
                await rig.looking.test_frame("camera-1")
            await rig.shoots.resume(shoot.id)
            assert not frame.done()
            assert (await frame).shutter_s == pytest.approx(2.0, rel=0.05)
            shoot, log, notes = await through(rig, shoot)
        compare(log, camera, notes)
    assert missed(log) == []
    well_apart(log)


async def test_a_hold_ends_when_it_was_to_over_restarts(tmp_path: Path) -> None:
    """The first restart finds it held still; the second comes after its end: what passed since is missed, and told."""
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await begun(rig, frames=9)
            held = await rig.shoots.hold(shoot.id, 10.0)
        assert held.held_until_utc is not None
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            now = (await rig.now()).shoot
            assert now is not None
            assert (now.state, now.held_until_utc) == (ShootState.HELD, pytest.approx(held.held_until_utc, abs=0.01))
        while evening.clock.utc() < held.held_until_utc + 3.5:
            await asyncio.sleep(0.1)
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot, log, notes = await through(rig, shoot)
        compare(log, camera, notes)
    passed = [row for row in log if row.cause == NOT_RUNNING]
    assert len(passed) >= 2
    assert passed[0].due_utc >= held.held_until_utc
    assert not [row for row in log if row.state == "missed" and row.due_utc < held.held_until_utc - INTERVAL_S]
    well_apart(log)


async def test_a_clock_that_came_up_behind_does_not_hold_it_for_longer(tmp_path: Path) -> None:
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await begun(rig, frames=5)
            await rig.shoots.hold(shoot.id, 2.0)
            await rig.store.change_shoot(shoot.id, held_until_utc=evening.clock.utc() + 86_400.0)
            rig.shoots.runs[shoot.id].holding.until_mono = float("inf")
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await ended(rig, shoot)
    assert shoot.state is ShootState.DONE


async def test_two_cameras_go_on_together(tmp_path: Path) -> None:
    evening = Evening()
    (tmp_path / "b").mkdir()
    with evening.camera(tmp_path) as one, evening.camera(tmp_path / "b") as other:
        async with evening.rig(tmp_path, one.address, other.address) as rig:
            await until(lambda: all(camera.connected for camera in rig.cameras()))
            shoot = await begun(rig, frames=6)
            held = await rig.shoots.hold(shoot.id, 3.0)
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
    assert held.held_until_utc is not None
    moments: dict[int, set[float]] = {}
    for row in log:
        moments.setdefault(row.seq, set()).add(round(row.due_utc, 3))
    assert all(len(each) == 1 for each in moments.values()), moments
    assert max(next(iter(each)) for each in moments.values()) > held.held_until_utc


async def test_a_bias_given_in_a_hold_holds_after_a_restart_though_nothing_is_metered(tmp_path: Path) -> None:
    """What the last frame was exposed for tells of the light as it was without that bias."""
    evening, follows = Evening(), {"kind": "follow", "aperture": 5.6, "iso": [100, 6400], "shutter_s": [0.001, 0.5]}
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            when = {"start": "now", "frames": 7}
            shoot = await rig.start_shoot(plan(INTERVAL_S, when=when, light=follows, files={"fetch": "none"}))
            await until(lambda: rig.shoots.runs[shoot.id].book.counts.done >= 3)
            await rig.shoots.hold(shoot.id)
            await until(lambda: not rig.shoots.runs[shoot.id].book.open_frames())
            await rig.shoots.change_light(shoot.id, bias_ev=2.0)
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            await rig.shoots.resume(shoot.id)
            shoot, log, _ = await through(rig, shoot)
    exposed = [row for row in log if row.target_ev is not None and row.state != "missed"]
    before, after = (row.target_ev for row in (exposed[0], exposed[-1]))
    assert before - after == pytest.approx(2.0, abs=0.5)
