"""A motion rig and the camera take turns: by the engine on a virtual clock, a model camera and mock pins."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from controller.camera.messages import Released
from controller.decide.exposure import triple
from controller.decide.plan import Plan
from controller.decide.step import Slot
from controller.decide.wiring import Motion
from controller.decide.wiring.motion import MOVING, Move
from controller.engine.moving import IN_MOTION, Moving
from controller.rehearsal import CameraModel, Spread
from controller.words.clock import VirtualClock
from controller.words.documents import Frame, FrameState
from tests.rehearsal import EXACT, FOLLOW, plan
from tests.rehearsal import plan as steady
from tests.wiring.stage import Line, Stage

MOTION = Motion(pin=17, after_s=0.1, pulse_s=0.4, settle_s=1.5)
LAG_S = 0.05


def exposures(stage: Stage, lag_s: float = 0.0) -> list[tuple[float, float]]:
    """From when to when the model's shutter was open, stage seconds."""
    taken = [frame for frame in stage.rows if frame.released_utc is not None]
    begun = [(f.released_utc or 0.0) - stage.clock.epoch_utc + lag_s for f in taken]
    return [(at, at + (frame.shutter_s or 0.0)) for at, frame in zip(begun, taken, strict=True)]


def overlapping(stage: Stage, lag_s: float = 0.0, settle_s: float = MOTION.settle_s) -> list[int]:
    """Which exposures, from 0, saw the rig move or swing."""
    moves = [(up, down + settle_s) for up, down in stage.line.pulses]
    return [
        n
        for n, (begun, ended) in enumerate(exposures(stage, lag_s))
        if any(begun < still - 1e-6 and up < ended - 1e-6 for up, still in moves)
    ]


def test_a_pulse_follows_each_exposure_and_the_next_release_waits_for_it(pins):
    stage = Stage(plan(5.0, 1.0), MOTION).play()
    assert [frame.state for frame in stage.rows] == [FrameState.WRITTEN] * 20
    ends = [ended for _, ended in exposures(stage)]
    assert [up for up, _ in stage.line.pulses] == pytest.approx([end + 0.1 for end in ends], abs=1e-6)
    assert [down - up for up, down in stage.line.pulses] == pytest.approx([0.4] * 20, abs=1e-6)
    assert overlapping(stage) == []
    assert {frame.late_ms for frame in stage.rows} == {0.0}
    assert pins.pin(17).state == 0


def test_the_exposure_gives_way_to_the_move(pins):
    """In the dark an interval of 4 s leaves 2 s of exposure where the move takes 2 s."""
    night = plan(4.0, light=FOLLOW, when={"start": "astronomical_dusk", "frames": 20})
    moved, still = Stage(night, MOTION).play(), Stage(night).play()
    assert max(frame.shutter_s or 0.0 for frame in moved.rows) == pytest.approx(2.0, rel=0.26)
    assert max(frame.shutter_s or 0.0 for frame in moved.rows) <= 2.0
    assert max(frame.shutter_s or 0.0 for frame in still.rows) > 2.5
    assert [frame.state for frame in moved.rows] == [FrameState.WRITTEN] * 20
    assert overlapping(moved) == []


def test_a_slow_shutter_makes_the_next_release_late_and_never_a_moving_frame(pins):
    """The body takes longer to open its shutter than the interval has room for."""
    slow = replace(EXACT, release_latency_s=0.6)
    stage = Stage(plan(4.0, 2.0), MOTION, settings=slow).play()
    assert overlapping(stage, lag_s=0.6) == []
    assert any((frame.late_ms or 0.0) > 100 for frame in stage.rows)
    assert all(frame.cause is None for frame in stage.rows if frame.state is FrameState.WRITTEN)


def test_where_there_is_no_time_the_slot_is_missed_with_its_cause(pins):
    slow = replace(EXACT, release_latency_s=4.0)
    timed = plan(5.0, 2.0, when={"start": "now", "duration": "3min"})
    stage = Stage(timed, MOTION, settings=slow).play()
    missed = [frame for frame in stage.rows if frame.state is FrameState.MISSED]
    assert {frame.cause for frame in missed} == {MOVING}
    assert len(missed) >= 15
    assert overlapping(stage, lag_s=4.0) == []
    assert len(stage.line.pulses) == len(exposures(stage))


def test_a_pin_that_fails_costs_no_frame_and_no_time(pins):
    def broken(stage: Stage) -> None:
        stage.line.broken = lambda on, now: 20.0 < now < 60.0

    stage = Stage(plan(5.0, 1.0), MOTION, at={1.0: broken}).play()
    bare = Stage(plan(5.0, 1.0)).play()

    def seen(frames: list[Frame]) -> list[object]:
        return [(f.seq, f.state, f.late_ms, f.due_utc, f.cause) for f in frames]

    assert seen(stage.rows) == seen(bare.rows)
    assert sum(error is not None for error in stage.failures) == 8  # tried at each move
    assert stage.failures[-1] is None
    assert len(stage.line.pulses) == 12


def test_a_pin_that_stays_on_is_switched_off_again_and_nothing_is_released_meanwhile(pins):
    def broken(stage: Stage) -> None:
        stage.line.broken = lambda on, now: not on and 20.0 < now < 33.0

    timed = plan(5.0, 1.0, when={"start": "now", "duration": "100s"})
    stage = Stage(timed, MOTION, at={1.0: broken}).play()
    assert overlapping(stage) == []
    missed = [frame for frame in stage.rows if frame.state is FrameState.MISSED]
    assert {frame.cause for frame in missed} == {MOVING}
    assert 2 <= len(missed) <= 3
    stuck = max(stage.line.pulses, key=lambda pulse: pulse[1] - pulse[0])
    assert stuck[0] < 25.0
    assert 33.0 <= stuck[1] < 34.5


def test_one_move_for_each_bracket(pins):
    light = {"kind": "fixed", "shutter_s": 0.5, "aperture": 5.6, "iso": 400, "bracket_ev": [-1, 0, 1]}
    stage = Stage(plan(12.0, light=light, when={"start": "now", "frames": 30}), MOTION).play()
    assert len(stage.rows) == 30
    assert len(stage.line.pulses) == 10
    assert overlapping(stage) == []


def test_no_slot_that_was_missed_is_followed_by_a_move(pins):
    full = CameraModel(release_latency_s=0.0, readout_s=0.0, write_s=Spread(0.2), card_bytes=155_000_000)
    stage = Stage(plan(5.0, 1.0, when={"start": "now", "duration": "60s"}), MOTION, settings=full).play()
    assert [frame.state for frame in stage.rows] == ["written"] * 5 + ["missed"] * 7
    assert len(stage.line.pulses) == 5


def test_a_frame_that_was_released_all_the_same_is_told_of(pins):
    """As a second camera may, that is late: what its row says."""

    def late(stage: Stage) -> None:
        assert stage.run.moving is not None
        stage.run.moving._moves.append(Move(14.0, 16.0, 17.5))  # the order for 15.5 s is on its way

    stage = Stage(plan(5.0, 1.0), MOTION, at={14.0: late}).play()
    assert [frame.seq for frame in stage.rows if frame.cause == IN_MOTION] == [4]
    assert stage.rows[3].state is FrameState.WRITTEN


def test_the_pin_is_off_after_the_shoot(pins):
    stage = Stage(plan(5.0, 1.0, when={"start": "now", "frames": 1}), MOTION).play()
    assert stage.line.edges[-1][1] == 0
    assert pins.pin(17).function == "input"  # let go


# ---- two cameras on one rig


class Pair:
    """Two cameras, told of as the engine tells of them, on a clock that the test moves."""

    def __init__(self, plan: Plan | None = None) -> None:
        self.clock = VirtualClock(0.0)
        self.line = Line(self.clock, 17)
        self.moving = Moving(MOTION, self.clock, lambda error: None, lambda: None, self.line)
        self._plan = plan or steady(10.0, 1.0)

    def _run(self, camera: str) -> Any:
        return SimpleNamespace(
            shoot=SimpleNamespace(id="evening"), camera=SimpleNamespace(id=camera), clock=self.clock, plan=self._plan
        )

    def ordered(self, camera: str, seq: int, due: float, shutter_s: float = 1.0, latest: float = 1e9) -> float | None:
        return self.moving.ordered(self._run(camera), slot(seq, due, shutter_s), latest)

    def released_at(self, camera: str, seq: int, at: float, shutter_s: float = 1.0) -> dict[str, str]:
        """The clock goes on to `at`, and the release is heard of."""
        self.until(at)
        return self.moving.heard(self._run(camera), slot(seq, at, shutter_s), Released(seq, at, 0.0))

    def until(self, at: float) -> None:
        self.clock.call_at(at, lambda: None)
        while self.clock.mono() < at:
            self.clock.advance()


def slot(seq: int, due: float, shutter_s: float) -> Slot:
    exposure = triple(shutter_s, 5.6, 400.0)
    return Slot(seq, due, due, 10.0, exposure, 9.0, 5.0, 5.0, 0.0, 0.0, 0.0)


def test_two_cameras_are_followed_by_one_move_when_the_last_has_closed(pins):
    pair = Pair()
    for seq, due in ((1, 10.0), (2, 20.0)):
        pair.until(due - 3.0)
        pair.ordered("camera-1", seq, due)
        pair.ordered("camera-2", seq, due, 3.0)
        assert pair.released_at("camera-1", seq, due) == {}
        assert pair.released_at("camera-2", seq, due + 0.01, 3.0) == {}
    pair.until(40.0)
    assert [up for up, _ in pair.line.pulses] == pytest.approx([13.11, 23.11])


def test_one_that_is_silent_keeps_the_other_no_longer_than_was_planned(pins):
    pair = Pair()
    pair.ordered("camera-1", 1, 10.0)
    pair.ordered("camera-2", 1, 10.0, 3.0)
    pair.released_at("camera-1", 1, 10.0)
    pair.until(19.0)
    assert [up for up, _ in pair.line.pulses] == pytest.approx([13.1])
    assert pair.ordered("camera-1", 2, 20.0) == 20.0


def test_one_that_is_late_is_waited_for_if_it_is_heard_of_before_the_move(pins):
    pair = Pair()
    pair.ordered("camera-1", 1, 10.0)
    pair.ordered("camera-2", 1, 10.0)
    pair.released_at("camera-1", 1, 10.0)
    assert pair.released_at("camera-2", 1, 10.9) == {}
    pair.until(19.0)
    assert [up for up, _ in pair.line.pulses] == pytest.approx([12.0])


def test_one_that_is_released_while_the_rig_moves_has_it_told_of_its_frame(pins):
    pair = Pair()
    pair.ordered("camera-1", 1, 10.0)
    pair.ordered("camera-2", 1, 10.0)
    pair.released_at("camera-1", 1, 10.0)
    assert pair.released_at("camera-2", 1, 11.3) == {"cause": IN_MOTION}  # the pulse is from 11.1 to 11.5 s
    pair.until(30.0)
    assert len(pair.line.pulses) == 1
    assert pair.released_at("camera-2", 1, 30.0) == {}  # still, but of a slot that was moved after: no second move
    pair.until(40.0)
    assert len(pair.line.pulses) == 1


def test_the_middle_of_a_bracket_may_be_heard_of_late_too(pins):
    light = {"kind": "fixed", "shutter_s": 1.0, "aperture": 5.6, "iso": 400, "bracket_ev": [-1, 0, 1]}
    pair = Pair(plan(30.0, light=light))
    pair.ordered("camera-1", 3, 10.0)
    pair.released_at("camera-1", 3, 10.0)
    assert pair.released_at("camera-2", 2, 10.9, 2.0) == {}
    pair.until(20.0)
    assert [up for up, _ in pair.line.pulses] == pytest.approx([13.0])


def test_a_release_is_put_off_until_the_camera_stands_still(pins):
    pair = Pair()
    pair.ordered("camera-1", 1, 10.0)
    pair.released_at("camera-1", 1, 10.0)
    pair.until(11.6)
    assert pair.ordered("camera-1", 2, 12.0) == pytest.approx(13.0)  # 11.5 s and 1.5 s of settling
    assert pair.ordered("camera-1", 2, 12.0, latest=12.9) is None
