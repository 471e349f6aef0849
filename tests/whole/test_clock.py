"""The wall's clock steps while a rig waits or shoots, the power is cut after that, and several windows a day."""

from __future__ import annotations

import asyncio
import itertools
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from controller.daemon import Rig
from controller.engine.run import DRAIN_S, ShootRun
from controller.words.documents import FrameState, ShootState
from tests.bench.rigs import plan as service_plan
from tests.support.rigs import EVENING_UTC, Evening, camera_there, ended, plan, rows, until
from tests.support.service import Service
from tests.support.simcam import start_simulated_camera
from tests.whole.test_restart import wait_for_frames
from tests.whole.truth import LATE, compare, missed

HOUR_S, DAY_S = 3600.0, 86_400.0


@pytest.mark.parametrize("step_s", [-DAY_S, HOUR_S])
async def test_a_step_in_mid_window_and_a_power_cut_after_it(step_s: float, tmp_path: Path):
    evening = Evening(rate=4)
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(4.0, when={"start": "now", "duration": "48s"}))
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.book.counts.written >= 3)
            evening.clock.epoch_utc += step_s
            await until(lambda: run.book.counts.written >= 6)
        await asyncio.sleep(1.5)
        async with evening.rig(tmp_path, camera.address) as rig:
            shoot = await ended(rig, shoot)
            log, notes = await rows(rig, shoot), await rig.store.notes(shoot.id)
        compare(log, camera)
    assert shoot.state is ShootState.DONE
    assert len(log) == 12  # 48 s at 4 s: neither the step nor the cut took one away
    assert {frame.state for frame in log[:6] if frame.cause not in LATE} == {FrameState.WRITTEN}
    causes = {frame.cause for frame in missed(log)}
    assert causes <= {
        "the rig was not running",
        "the rig stopped while this slot was in hand",
        "the camera is being connected",
    }
    jumps = [round(b.due_utc - a.due_utc - 4.0, 1) for a, b in itertools.pairwise(log)]
    assert [jump for jump in jumps if jump] == [step_s]
    assert [note.facts["step_s"] for note in notes if note.kind == "clock-step"] == [pytest.approx(step_s, abs=0.01)]


async def windows_job(rig: Rig, shoot: str):
    return rig._chores._scheduler.get_job(shoot)


async def test_a_clock_that_is_set_while_a_shoot_waits_brings_its_window_at_once(tmp_path: Path):
    evening = Evening(rate=4)
    start_utc = EVENING_UTC + 2 * HOUR_S
    document = plan(
        4.0, when={"every": "day", "start": f"{datetime.fromtimestamp(start_utc, UTC):%H:%M}", "duration": "1min"}
    )
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(document)
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.window is not None)
            async with asyncio.timeout(60):  # what wakes it is set in the moment after
                while await windows_job(rig, shoot.id) is None:
                    await asyncio.sleep(0.02)
            for step_s in (-DAY_S, 10 * 365 * DAY_S, -HOUR_S):
                evening.clock.epoch_utc += step_s
                run.waker.wake()  # what the look every half minute does
                await until(lambda: run.window is not None and 0 < run.window.start_utc - evening.clock.utc() < DAY_S)
            evening.clock.epoch_utc = run.window.start_utc - 12 - evening.clock.mono()
            run.waker.wake()
            await until(lambda: run.book.counts.written >= 3)
            assert (await windows_job(rig, shoot.id)) is None
            begun_utc = run.window.start_utc
            tomorrow = begun_utc + HOUR_S
            await until(lambda: run.window is not None and run.window.start_utc > tomorrow, 15 + 2 * DRAIN_S + 60)
            await rig.shoots.stop(shoot.id)
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(log, camera)
    assert len(log) == 15
    assert log[0].due_utc == pytest.approx(begun_utc, abs=0.01)
    assert run.window.start_utc == pytest.approx(begun_utc + DAY_S, abs=1)


async def test_a_clock_that_is_set_while_a_window_is_chosen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Between choosing it and waiting for it: by the clock as it is, what was chosen is long over, and is not shot."""
    evening, put = Evening(rate=4), []
    save = ShootRun.save

    async def saved(run: ShootRun, **fields: Any) -> None:
        await save(run, **fields)
        if "start_utc" in fields and not put:
            put.append(10 * 365 * DAY_S)
            evening.clock.epoch_utc += put[0]

    monkeypatch.setattr(ShootRun, "save", saved)
    start_utc = EVENING_UTC + 2 * HOUR_S
    when = {"every": "day", "start": f"{datetime.fromtimestamp(start_utc, UTC):%H:%M}", "duration": "1min"}
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(4.0, when=when))
            run = rig.shoots.runs[shoot.id]
            await until(lambda: put and run.window and 0 < run.window.start_utc - evening.clock.utc() < DAY_S)
            await until(lambda: run.shoot.state is ShootState.WAITING)
            await asyncio.sleep(2)
            assert await rows(rig, shoot) == []
            assert run.shoot.state is ShootState.WAITING


def near_noon() -> tuple[str, datetime]:
    """A zone by whose clock it is about noon, and its time: no window of these tests crosses a midnight."""
    hours = 12 - datetime.now(UTC).hour
    name = f"Etc/GMT{'-' if hours > 0 else '+'}{abs(hours)}" if hours else "Etc/GMT"
    return name, datetime.now(UTC) + timedelta(hours=hours)


def test_killed_in_one_of_several_windows_a_day(tmp_path: Path):
    """One is over, one is under way, one is to come: after a start the one under way is gone on with."""
    zone, now = near_noon()
    clock = [f"{now + timedelta(minutes=minutes):%H:%M}" for minutes in (-120, -60, -30, 30, 60, 90)]
    spans = [dict(zip(("start", "stop"), pair, strict=True)) for pair in zip(clock[::2], clock[1::2], strict=True)]
    site = {"latitude": 57.66, "longitude": 11.72, "timezone": zone}
    document = service_plan("site", 1.0, 0.1, 9) | {"when": {"every": "day", "windows": spans}, "site": site}
    with start_simulated_camera(tmp_path) as camera:
        service = Service(tmp_path / "rig", camera)
        service.wait_for_camera()
        shoot = service.shoot(document)
        wait_for_frames(service, shoot, 3)
        started_utc = service.get(f"/api/v1/shoots/{shoot}")["start_utc"]
        service.kill()
        service = Service(tmp_path / "rig", camera)
        before = service.get(f"/api/v1/shoots/{shoot}")["counts"]["written"]
        wait_for_frames(service, shoot, before + 1)
        again = service.get(f"/api/v1/shoots/{shoot}")
        service.post(f"/api/v1/shoots/{shoot}/stop", {})
        service.wait_for_end(shoot)
        log = [row["seq"] for row in service.frames(shoot)]
        assert service.stop() == 0
    assert again["start_utc"] == started_utc
    assert log == list(range(1, len(log) + 1))
