"""A rig whose machine does not know the time: the real engine and camera, and the real service under libfaketime."""

from __future__ import annotations

import itertools
import os
import sys
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from controller.daemon import Rig
from controller.decide.clock_trust import MADE_UTC
from controller.engine.rig_time import RigTime
from controller.words.clock import WallClock
from controller.words.documents import FrameState, KeptBy, ShootState
from controller.words.errors import Conflict
from tests.bench.rigs import plan as service_plan
from tests.support.rigs import camera_there, ended, plan, rows, until
from tests.support.service import Service
from tests.support.simcam import start_simulated_camera
from tests.whole.test_restart import wait_for_frames
from tests.whole.truth import LATE, compare

NOW, HOUR_S, DAY_S = MADE_UTC + 30.5 * 86_400.0, 3600.0, 86_400.0  # 12:00 UTC
YEARS_S = 3652 * DAY_S


class Machine(WallClock):
    """A machine that was started a moment ago, whose clock is off."""

    def __init__(self, off_s: float) -> None:
        self._begun = time.monotonic()
        self.off_s = off_s

    def machine_utc(self) -> float:
        return NOW + self.off_s + self.awake()

    def awake(self) -> float:
        return time.monotonic() - self._begun


@pytest.fixture(autouse=True)
def timedatectl(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program = tmp_path / "bin/timedatectl"
    program.parent.mkdir()
    program.write_text("#!/bin/sh\necho no\n")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", str(program.parent), prepend=os.pathsep)


@asynccontextmanager
async def rig_on(tmp_path: Path, machine: Machine, address: str) -> AsyncIterator[Rig]:
    rig = Rig(tmp_path / "rig", machine, [address])
    rig.time = RigTime(machine, rig.directory, rig._clock_judged, tmp_path)
    await rig.open()
    try:
        await camera_there(rig)
        yield rig
    finally:
        await rig.close()


def daily(start_utc: float, seconds: int) -> dict[str, object]:
    when = {"every": "day", "start": f"{datetime.fromtimestamp(start_utc, UTC):%H:%M:%S}", "duration": f"{seconds}s"}
    return plan(1.0, when=when)


@pytest.mark.parametrize("off_s", [-NOW, YEARS_S])
async def test_what_begins_now_runs_at_once_and_its_rows_are_marked(tmp_path: Path, off_s: float) -> None:
    (tmp_path / "rig").mkdir()
    (tmp_path / "rig/clock.json").write_text(f'{{"known_utc": {NOW - 60 if off_s > 0 else "null"}}}')
    with start_simulated_camera(tmp_path) as camera:
        async with rig_on(tmp_path, Machine(off_s), camera.address) as rig:
            with pytest.raises(Conflict) as refused:
                await rig.start_shoot(daily(NOW + 60, 10))
            assert refused.value.code == "clock-not-set"
            shoot = await rig.start_shoot(plan(1.0, when={"start": "now", "frames": 8}))
            run = rig.shoots.runs[shoot.id]
            await until(lambda: run.book.counts.written >= 3)
            assert any("not know what time it is" in line for line in (await rig.now()).attention)
            await rig.time.tell(NOW + 5.0, KeptBy.PHONE)
            shoot = await ended(rig, shoot)
            log, notes = await rows(rig, shoot), await rig.store.notes(shoot.id, kind="clock-step")
        compare(log, camera)
    assert shoot.state is ShootState.DONE
    step_s = notes[0].facts["step_s"]
    assert step_s == pytest.approx(-off_s, abs=60)
    jumps = {b.seq: b.due_utc - a.due_utc - 1.0 for a, b in itertools.pairwise(log)}
    moved = {seq: off for seq, off in jumps.items() if abs(off) > 0.01}
    assert moved == {notes[0].facts["last_seq"] + 1: pytest.approx(step_s, abs=0.05)}


@pytest.mark.parametrize("off_s", [-2 * HOUR_S, YEARS_S])
async def test_a_window_waits_for_the_time_and_is_shot_once(tmp_path: Path, off_s: float) -> None:
    """A shoot of many days, taken up after the machine woke up with a wrong time; nothing is missed meanwhile."""
    with start_simulated_camera(tmp_path) as camera:
        async with rig_on(tmp_path, Machine(-3 * DAY_S), camera.address) as rig:
            await rig.time.tell(NOW - 3 * DAY_S, KeptBy.PHONE)
            shoot = await rig.start_shoot(daily(NOW + HOUR_S, 8))
            await until(lambda: rig.shoots.runs[shoot.id].window is not None)
            await rig.shoots.stop(shoot.id)
            await ended(rig, shoot)
            shoot = await rig.start_shoot(daily(NOW + HOUR_S, 8))
            await until(lambda: rig.shoots.runs[shoot.id].window is not None)
        async with rig_on(tmp_path, Machine(off_s), camera.address) as rig:
            run = rig.shoots.runs[shoot.id]
            await until(lambda: "not know what time it is" in str(run.shoot.cause))
            assert run.shoot.state is ShootState.WAITING
            assert await rows(rig, shoot) == []
            assert (await rig.now()).clock.windows_wait
            await rig.time.tell(NOW + HOUR_S - 130.0, KeptBy.PHONE)
            await until(lambda: run.shoot.state is ShootState.WAITING and run.shoot.cause is None)
            await rig.time.tell(NOW + HOUR_S - 2.0, KeptBy.PHONE)
            await until(lambda: run.book.counts.written + run.book.counts.missed >= 8)
            await until(lambda: run.window.start_utc > NOW + 2 * HOUR_S)
            assert run.window.start_utc == pytest.approx(NOW + HOUR_S + DAY_S, abs=1.0)
            await rig.shoots.stop(shoot.id)
            await ended(rig, shoot)
            log, notes = await rows(rig, shoot), await rig.store.notes(shoot.id, kind="windows-passed")
        compare(log, camera)
    assert len(log) == 8
    assert log[0].due_utc == pytest.approx(NOW + HOUR_S, abs=0.01)
    assert {frame.cause for frame in log if frame.state is FrameState.MISSED} <= LATE
    assert [note.facts["windows"] for note in notes] == [3]  # those of the days without power, and no others


def test_the_service_on_a_clock_that_is_put_forward_and_back_by_ten_years(tmp_path: Path) -> None:
    off = tmp_path / "off"
    off.write_text("0")
    under = [sys.executable, "-m", "tests.support.stepped", str(off)]
    with start_simulated_camera(tmp_path) as camera, Service(tmp_path / "rig", camera, under=under) as service:
        service.wait_for_camera()
        shoot = service.shoot({**service_plan("steps", 1.0, 0.1, 9), "when": {"start": "now", "frames": 16}})
        for count, off_s in ((2, 1.0), (4, -HOUR_S), (6, YEARS_S), (9, -YEARS_S), (12, 0.0)):
            wait_for_frames(service, shoot, count)
            written = off.with_suffix(".new")
            written.write_text(str(off_s))
            written.replace(off)
        service.wait_for_end(shoot)
        log = service.frames(shoot)
        assert service.get("/healthz")["ok"]
        assert {row["state"] for row in log if row["cause"] not in LATE} <= {"written", "fetched"}
        assert len([row for row in log if row["state"] != "missed"]) == 16
        due = [datetime.fromisoformat(row["due_utc"]).timestamp() for row in log]
        jumps = [round(b - a - 1.0) for a, b in itertools.pairwise(due)]
        steps = [jump for jump in jumps if jump]
        # Put back behind what the rig knows, its time goes on from there at the next look, if a slow machine has one.
        assert steps[:3] == [1, -HOUR_S - 1, YEARS_S + HOUR_S]
        assert abs(sum(steps)) <= 11
        disk = service.get("/api/v1/now")["storage"]["rig_free_bytes"]
        (tmp_path / "ballast").write_bytes(bytes(50_000_000))
        until_other = time.monotonic() + 60
        while service.get("/api/v1/now")["storage"]["rig_free_bytes"] == disk:  # small regular work goes on
            assert time.monotonic() < until_other
            time.sleep(0.5)
