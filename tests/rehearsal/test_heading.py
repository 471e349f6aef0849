"""What `now` says of where a shoot is heading, against what the engine then shoots."""

from __future__ import annotations

import asyncio

import pytest

from controller.decide.plan import Plan
from controller.engine.now import Forecasts
from controller.rehearsal.camera import CameraModel
from controller.rehearsal.loop import VirtualLoop
from controller.rehearsal.rehearse import _Stage
from controller.rehearsal.sky import flat
from controller.rehearsal.weather import clear
from controller.words.documents import Frame, Heading, ShootState
from tests.decide import changed, example, utc

NOON = utc("2026-12-03T10:00:00")
HOLD_AT = 300  # the row of the log with which it is held; it is handed on some hundred slots later


class Watched(_Stage):
    """Asked after every slot, and whenever the run has news, as the page does."""

    def __init__(self, plan: Plan, frames: list[Frame], hold_at: int = HOLD_AT) -> None:
        super().__init__(plan, NOON, clear(), CameraModel(), 0, None, 1, flat(-1.0), frames.append)
        self.forecasts, self.frames_left, self.held_utc = Forecasts(), 0, 0.0
        self.hold_at, self.in_the_end = hold_at, list[int]()
        self.told: list[tuple[ShootState, Heading | None]] = []

    def look(self) -> None:
        run = self._run
        assert run is not None
        coming = self.forecasts.of(run)
        self.told.append((run.shoot.state, self.forecasts.heading))
        if coming is not None:
            assert coming.frames_left is not None
            self.frames_left = coming.frames_left
            if run.slots.progress is not None and not self.held_utc:
                self.in_the_end.append(run.slots.progress.seq - 1 + coming.frames_left)

    def _changed(self) -> None:
        super()._changed()
        if self._run is not None:
            self.look()

    def _take(self, frame: Frame) -> None:
        super()._take(frame)
        self.look()
        if frame.seq == self.hold_at:
            asyncio.get_running_loop().create_task(self._hold())

    async def _hold(self) -> None:
        """What is left is fewer by the slots that were not shot."""
        run = self._run
        assert run is not None
        assert run.slots.progress is not None
        self.held_utc, interval_s = self.clock.utc(), run.slots.progress.interval_s
        assert interval_s is not None
        await run.hold()
        self.look()
        before = self.frames_left
        await asyncio.sleep(600.0)
        self.look()
        assert before - self.frames_left == pytest.approx(600 / interval_s, rel=0.1)
        await run.resume()


def test_told_while_it_shoots_and_at_no_other_time() -> None:
    frames: list[Frame] = []
    stage = Watched(example("quay_at_dusk"), frames)
    VirtualLoop(stage.clock).run_until_complete(stage.play())  # type: ignore[abstract]
    for state in (ShootState.WAITING, ShootState.CHECKING, ShootState.HELD):
        assert {heading for told, heading in stage.told if told is state} == {None}
    shooting = [heading for told, heading in stage.told if told is ShootState.SHOOTING and heading is not None]
    end_utc = frames[-1].due_utc
    near = [heading for heading in shooting[20:] if not stage.held_utc < heading.utc < stage.held_utc + 1800]
    assert len(near) > 300
    for heading in near[:: len(near) // 40]:
        came = min(frames, key=lambda frame, at=heading.utc: abs(frame.due_utc - at))  # type: ignore[misc]
        assert heading.interval_s == pytest.approx(came.interval_s, rel=0.02)
        assert abs(heading.exposure.ev - (came.exposure_ev or 0.0)) < 0.5
    assert max(heading.utc for heading in shooting) == pytest.approx(end_utc, abs=30)


@pytest.mark.parametrize("when", [{"stop": None, "duration": "10min"}, {"stop": None, "frames": 600}])
def test_with_each_slot_there_is_one_less_to_come(when: dict[str, object]) -> None:
    """600 slots a second apart, though the forecast itself is worked out anew every five seconds only."""
    steady = {"kind": "steady", "interval_s": 1.0, "min_gap_s": 0.2}
    fixed = {"kind": "fixed", "shutter_s": 0.1, "aperture": 5.6, "iso": 200}
    stage = Watched(changed(example("quay_at_dusk"), when=when, pace=steady, light=fixed), [], hold_at=0)
    VirtualLoop(stage.clock).run_until_complete(stage.play())  # type: ignore[abstract]
    shot = stage.in_the_end[20:]
    assert len(shot) > 500
    assert (min(shot), max(shot)) == (pytest.approx(600, abs=1), pytest.approx(600, abs=1))
