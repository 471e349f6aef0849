"""Frames on pulses: by the engine on a virtual clock and a model camera."""

from __future__ import annotations

from typing import Any

import pytest

from controller.decide.wiring import Motion
from controller.words.documents import FrameState, ShootState
from tests.rehearsal import FOLLOW, NOW, plan
from tests.wiring.stage import Stage

EVERY_7 = tuple(10.0 + 7.0 * n for n in range(8))


def pulsed(min_interval_s: float = 5.0, **tables: Any) -> Any:
    pace = {"kind": "pulse", "min_interval_s": min_interval_s, "min_gap_s": 0.5}
    return plan(**{"pace": pace, "when": {"start": "now", "duration": "100s"}, **tables})


def due(stage: Stage) -> list[float]:
    return [frame.due_utc - NOW for frame in stage.rows]


def test_a_frame_for_each_pulse_at_its_moment(pins):
    stage = Stage(pulsed(), pulses=EVERY_7).play()
    assert [frame.state for frame in stage.rows] == [FrameState.WRITTEN] * 8
    assert due(stage) == pytest.approx(list(EVERY_7), abs=1e-6)
    assert [frame.seq for frame in stage.rows] == list(range(1, 9))
    assert max(frame.late_ms or 0.0 for frame in stage.rows) <= 100.0  # what the model camera needs for an order
    assert {frame.interval_s for frame in stage.rows} == {5.0}
    assert stage.run.shoot.state is ShootState.DONE


def test_pulses_that_come_too_early_are_logged_and_thin_a_fast_train_out(pins):
    every_3 = tuple(10.0 + 3.0 * n for n in range(8))
    stage = Stage(pulsed(), pulses=every_3).play()
    assert [frame.state for frame in stage.rows] == [FrameState.WRITTEN, FrameState.MISSED] * 4
    assert due(stage) == pytest.approx(list(every_3), abs=1e-6)
    missed = [frame for frame in stage.rows if frame.state is FrameState.MISSED]
    assert {frame.cause for frame in missed} == {"the pulse came 3 s after the one before; min_interval_s is 5"}


def test_the_exposure_follows_the_light_and_leaves_room(pins):
    tables = {"light": FOLLOW, "when": {"start": "now", "frames": 8}}
    stage = Stage(pulsed(**tables), pulses=EVERY_7).play()
    assert len(stage.rows) == 8
    assert all(abs((f.exposure_ev or 0.0) - (f.target_ev or 0.0)) < 0.5 for f in stage.rows)
    assert all((frame.shutter_s or 0.0) <= 4.5 for frame in stage.rows)


def test_a_counted_plan_ends_when_its_frames_are_taken(pins):
    stage = Stage(pulsed(when={"start": "now", "frames": 3}), pulses=EVERY_7).play()
    assert len(stage.rows) == 3
    assert stage.run.shoot.cause == "the plan's 3 frames are done"


def test_without_a_pulse_the_window_passes_and_that_is_noted(pins):
    stage = Stage(pulsed(when={"start": "now", "duration": "20min"}), pulses=(700.0,)).play()
    assert due(stage) == pytest.approx([700.0], abs=1e-6)
    kinds = [note.kind for note in stage.notes if "pulse" in note.kind]
    assert kinds == ["no-pulse", "pulses-again", "no-pulse"]
    assert stage.run.shoot.cause == "the plan's stop was reached"


def test_the_time_before_the_window_is_no_silence(pins):
    plan = pulsed(when={"start": "2026-10-20T12:20:00", "duration": "4min"})
    stage = Stage(plan, pulses=(1210.0, 1230.0)).play()
    assert len(stage.rows) == 2
    assert [note.kind for note in stage.notes if "pulse" in note.kind] == []


def test_pulses_during_a_hold_are_no_slots(pins):
    hold, resume = (lambda stage: stage.run.hold()), (lambda stage: stage.run.resume())
    stage = Stage(pulsed(), pulses=EVERY_7, at={20.0: hold, 40.0: resume}).play()
    assert due(stage) == pytest.approx([at for at in EVERY_7 if not 20 < at < 40], abs=1e-6)
    assert {frame.state for frame in stage.rows} == {FrameState.WRITTEN}


def test_pulses_while_the_camera_is_gone_are_missed_with_its_cause(pins):
    def lose(stage: Stage) -> None:
        stage.camera._lose("the cable is out", 0)

    stage = Stage(pulsed(), pulses=EVERY_7, at={20.0: lose, 40.0: lambda stage: stage.camera._open()}).play()
    assert due(stage) == pytest.approx(list(EVERY_7), abs=1e-6)
    missed = [frame for frame in stage.rows if frame.state is FrameState.MISSED]
    assert [frame.seq for frame in missed] == [3, 4, 5]  # 24, 31 and 38 s
    assert all("the cable is out" in (frame.cause or "") for frame in missed)


def test_a_pulse_that_is_heard_of_long_after_is_one_missed_slot(pins):
    """As where the machine was stopped for a while: no slots are made up for times at which no pulse came."""
    stage = Stage(pulsed(), at={60.0: lambda stage: stage.run.pulsed.take(20.0)}).play()
    assert [(frame.state, round(frame.due_utc - NOW, 3)) for frame in stage.rows] == [(FrameState.MISSED, 20.0)]
    assert stage.rows[0].cause


def test_each_window_waits_for_a_pulse_of_its_own(pins):
    """A pulse that came as the first window ended is shot in neither, and does not begin the second."""
    windows = [{"start": "12:01", "duration": "30s"}, {"start": "12:05", "duration": "60s"}]
    plan = pulsed(when={"windows": windows, "date": "2026-10-20"})
    stage = Stage(plan, pulses=(65.0, 75.0, 89.9995, 200.0, 310.0, 320.0)).play()
    assert due(stage) == pytest.approx([65.0, 75.0, 310.0, 320.0], abs=1e-6)
    assert {frame.state for frame in stage.rows} == {FrameState.WRITTEN}


def test_a_motion_rig_that_hands_over_in_both_directions(pins):
    """Its pulse releases the frame, and ours tells it that the shutter has closed."""
    motion = Motion(pin=17, after_s=0.1, pulse_s=0.2, settle_s=0.0)
    stage = Stage(pulsed(), motion, pulses=EVERY_7).play()
    assert [frame.state for frame in stage.rows] == [FrameState.WRITTEN] * 8
    assert len(stage.line.pulses) == 8
    ends = [(f.released_utc or 0.0) - NOW + (f.shutter_s or 0.0) for f in stage.rows]
    assert [up for up, _ in stage.line.pulses] == pytest.approx([end + 0.1 for end in ends], abs=1e-3)


def test_a_rehearsal_of_such_a_plan_has_pulses_of_its_own(pins):
    from tests.rehearsal import played

    came, rows = played(pulsed())
    assert came.summary.frames == len(rows) == pytest.approx(100 / 5, abs=1)
