"""Cameras absent, gone, mute, or without their process: the shoot goes on and the log says what happened."""

import os
import signal
from pathlib import Path

from controller.words.documents import FrameState, ShootState
from tests.support.rigs import Evening, camera_there, ended, plan, rows, until
from tests.whole.truth import LATE, compare, missed, taken


async def shoot_through(tmp_path: Path, faults: str, frames: int = 16, interval_s: float = 1.0, **camera_options):
    """The log of a shoot whose camera misbehaves by a script, checked against the camera's own record."""
    evening = Evening()
    with evening.camera(tmp_path, faults=faults, **camera_options) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(interval_s, when={"start": "now", "frames": frames}))
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
            notes = await rig.store.notes(shoot.id)
        compare(log, camera)
    assert shoot.state is ShootState.DONE
    return log, notes


def shot_again_once_back(log, notes):
    """From the camera's return on no slot is missed for want of it. One that fell due before may be logged after."""
    back_utc = max(note.utc for note in notes if note.kind == "camera-back")
    after = [frame for frame in log if frame.due_utc > back_utc]
    assert [frame.state for frame in after if frame.cause not in LATE].count(FrameState.WRITTEN) >= 2
    assert missed(after) == []


async def test_absent_at_the_start(tmp_path: Path):
    evening = Evening()
    with evening.camera(tmp_path) as first:
        port, event_port = first.port, first.event_port
    async with evening.rig(tmp_path, f"ptpip:127.0.0.1:{port}:{event_port}") as rig:
        shoot = await rig.start_shoot(plan(1.0, when={"start": "now", "frames": 4}))
        run = rig.shoots.runs[shoot.id]
        await until(lambda: run.book.counts.missed >= 3)
        assert run.shoot.state is ShootState.RECOVERING
        now = await rig.now()
        assert not now.well
        assert "Camera not there" in now.attention[0]
        with evening.camera(tmp_path, port=port, event_port=event_port) as camera:
            await until(lambda: run.book.counts.done > 0, 60, "shooting again")
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
            compare(log, camera)
    assert shoot.state is ShootState.DONE
    assert all("camera" in str(frame.cause) for frame in missed(log))


async def test_gone_in_mid_shoot_and_back(tmp_path: Path):
    log, notes = await shoot_through(tmp_path, "ok*4 gone(5) ok")
    kinds = [note.kind for note in notes]
    assert kinds.index("camera-gone") < kinds.index("camera-back")
    assert len(missed(log)) >= 3
    shot_again_once_back(log, notes)


async def test_connection_cut_in_place_of_an_answer_loses_no_frame(tmp_path: Path):
    log, _ = await shoot_through(tmp_path, "ok*4 cut ok*3 drop ok")
    assert not [frame for frame in log if frame.state is FrameState.LOST]


async def test_a_file_that_is_written_after_the_new_session_began_and_never_told(tmp_path: Path):
    """The new session is there before the file is, and the body tells nobody of it: only a later look can find it."""
    log, _ = await shoot_through(tmp_path, "ok*4 cut+noevent ok", frames=8, write=0.6)
    assert not [frame for frame in log if frame.state is FrameState.LOST]


async def test_mute_for_a_while(tmp_path: Path):
    log, notes = await shoot_through(tmp_path, "ok*4 mute(20) ok", frames=8, interval_s=2.0)
    assert any(note.kind == "camera-gone" for note in notes)
    assert len(missed(log)) >= 5
    shot_again_once_back(log, notes)


async def test_events_twice_missing_and_bad_pictures(tmp_path: Path):
    log, notes = await shoot_through(
        tmp_path, "ok*2 twice ok noevent ok badthumb nothumb corrupt truncate ok", frames=14
    )
    assert {frame.state for frame in taken(log)} == {FrameState.WRITTEN}
    assert any(note.kind == "no-metering" for note in notes)


async def test_refused_and_busy(tmp_path: Path):
    log, _ = await shoot_through(tmp_path, "ok*2 refuse(device_busy)*2 ok busy(2) ok*2 refuse(2002) ok", frames=12)
    for frame in log:
        assert frame.state in (FrameState.WRITTEN, FrameState.MISSED), frame


async def test_store_full_and_freed(tmp_path: Path):
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(1.0, when={"start": "now", "frames": 6}))
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.book.counts.written >= 3)
            camera.control("fault", word="full")
            await until(lambda: run.book.counts.missed >= 2)
            assert any("full" in line for line in (await rig.now()).attention)
            camera.control("fault", word="free")
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(log, camera)
    assert shoot.state is ShootState.DONE
    assert all("full" in str(frame.cause) for frame in missed(log))


async def test_frame_that_is_never_written_is_lost_and_said_so(tmp_path: Path):
    log, _ = await shoot_through(tmp_path, "ok*3 unwritten ok", frames=8)
    assert [(frame.seq, frame.state) for frame in log if frame.state is FrameState.LOST] == [(4, FrameState.LOST)]


async def test_camera_process_killed_in_mid_exposure(tmp_path: Path):
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(3.0, 1.5, when={"start": "now", "frames": 8}))
            run = rig.shoots.runs[shoot.id]
            for count in (2, 4):
                await until(lambda count=count: run.book.counts.released and run.book.counts.written >= count)
                worker = rig.links[0]._process.pid
                os.kill(worker, signal.SIGKILL)
                await until(lambda: rig.links[0].opened is None)
                await camera_there(rig)
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(log, camera)
    assert shoot.state is ShootState.DONE
    assert not [frame for frame in log if frame.state is FrameState.LOST]
