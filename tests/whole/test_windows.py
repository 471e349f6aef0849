"""Windows one after the other, and windows that the rig slept through, waited through or lost its camera in."""

import asyncio
import math
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.daemon import Rig
from controller.engine import metering
from controller.store.files import write_atomic
from controller.words.documents import Frame, FrameState, ShootState
from tests.support.rigs import Evening, camera_there, ended, plan, rows, until
from tests.whole.truth import LATE, compare, missed

# 2026-10-20T15:56:00Z is 17:56 by the clock of Stockholm (UTC+2 until the last Sunday of October).
ROUND_THE_CLOCK = {"latitude": 57.66, "longitude": 11.72, "timezone": "Europe/Stockholm"}


async def test_windows_back_to_back_day_after_day(tmp_path: Path):
    evening = Evening(rate=2400)
    when = {"every": "day", "start": "18:00", "stop": "17:59"}
    with evening.camera(tmp_path, readout=0, write=0) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(3000.0, 1.0, when=when, site=ROUND_THE_CLOCK))
            run = rig.shoots.runs[shoot.id]
            first_utc = run.shoot.start_utc
            await until(lambda: (run.shoot.start_utc or 0) > (first_utc or 0), 120)
            done = run.book.counts.done
            await until(lambda: run.book.counts.done > done + 2)
            assert run.shoot.state is ShootState.SHOOTING
            await rig.shoots.stop(shoot.id)
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(log, camera)
    assert len({frame.due_utc for frame in log}) == len(log)


async def test_slots_that_a_rig_slept_through_are_logged(tmp_path: Path):
    evening = Evening(rate=40)
    document = plan(40.0, when={"start": "sunset+4min", "stop": "sunset+18min"})
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await rig.start_shoot(document)
            assert shoot.state is ShootState.WAITING
            assert shoot.start_utc is not None
        await asyncio.sleep(max(0.0, shoot.start_utc + 230 - evening.clock.utc()) / 40)
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(log, camera)
    assert len(log) == 21  # 14 min at 40 s
    assert {frame.cause for frame in log[:6]} == {"the rig was not running"}
    assert {frame.cause for frame in missed(log)} <= {"the rig was not running", "the camera is being connected"}
    assert [frame.state for frame in log if frame.cause not in LATE][-1] is FrameState.WRITTEN


async def test_a_rig_that_comes_back_after_the_end_logs_the_rest(tmp_path: Path):
    evening = Evening(rate=30)
    document = plan(20.0, when={"start": "now", "duration": "8min"})
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(document)
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.book.counts.written >= 5)
            assert run.shoot.stop_utc is not None
            stop_utc = run.shoot.stop_utc
        await asyncio.sleep(max(0.0, stop_utc + 60 - evening.clock.utc()) / 30)
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(log, camera)
    assert shoot.state is ShootState.DONE
    assert len(log) == math.ceil((stop_utc - log[0].due_utc) / 20.0)  # 24 on a machine that begins at once
    assert sum(frame.state is FrameState.WRITTEN for frame in log) >= 5


async def test_a_camera_that_does_not_come_back_before_the_end(tmp_path: Path):
    evening = Evening(rate=4)
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(4.0, 1.0, when={"start": "now", "duration": "1min"}))
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.book.counts.written >= 3)
            camera.stop()
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
    assert shoot.state is ShootState.DONE
    assert [frame.seq for frame in log] == list(range(1, len(log) + 1))
    assert shoot.stop_utc is not None
    assert log[-1].due_utc < shoot.stop_utc <= log[-1].due_utc + 4.0  # to the end of the window
    assert all(frame.cause for frame in log if frame.state is not FrameState.WRITTEN)


async def test_an_empty_card_and_a_camera_lost_in_the_first_frame(tmp_path: Path):
    evening = Evening()
    with evening.camera(tmp_path, faults="cut ok") as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(1.0, when={"start": "now", "frames": 4}))
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(log, camera)
    assert shoot.state is ShootState.DONE


async def test_a_slow_card_loses_nothing_of_what_is_on_it(tmp_path: Path):
    evening = Evening()
    with evening.camera(tmp_path, faults="ok drop ok", write=8) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(9.0, when={"start": "now", "frames": 3}))
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(log, camera)
    assert not [frame for frame in log if frame.state is FrameState.LOST]


STRICT_S = 3.0
"""Interval of the tests of disks that stand still, wide enough for a machine that is busy besides."""


async def stalled_shoot(tmp_path: Path, stall: Callable[[Rig], None], go_on: Callable[[], None]) -> list[Frame]:
    """The log of six slots during which, from the second on, something stands still; it goes on when all are over."""
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(STRICT_S, when={"start": "now", "frames": 6}))
            run = rig.shoots.runs[shoot.id]
            try:
                await until(lambda: run.book.counts.written >= 2)
                stall(rig)
                await until(lambda: run.book.counts.written + run.book.counts.missed >= 6, 60)
            finally:
                go_on()
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(log, camera)
    assert [(frame.state, frame.cause) for frame in log] == [(FrameState.WRITTEN, None)] * 6
    return log


@pytest.mark.alone
async def test_a_log_that_stalls_holds_up_no_release(tmp_path: Path):
    gate, tasks = threading.Event(), []

    def stall(rig: Rig) -> None:
        tasks.append(asyncio.create_task(rig.store._database.write(lambda _: gate.wait(120))))

    await stalled_shoot(tmp_path, stall, gate.set)


@pytest.mark.alone
async def test_a_disk_that_stalls_under_the_pictures_holds_up_no_release(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    gate = threading.Event()
    gate.set()

    def slowly(path: Path, content: bytes) -> None:
        gate.wait(120)
        write_atomic(path, content)

    monkeypatch.setattr(metering, "write_atomic", slowly)
    log = await stalled_shoot(tmp_path, lambda _: gate.clear(), gate.set)
    kept = {frame.seq for frame in log if frame.preview}
    assert {1, 2} < kept
    assert kept == {int(path.stem) for path in (tmp_path / "rig").rglob("*.jpg")}
