"""Forecasts and summaries against the slots that really come."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from controller.decide.forecast import forecast
from controller.decide.pace import PaceChange
from controller.decide.schedule import Window, windows
from controller.decide.step import Adjust, Moment, begin, next_slot, used
from tests.decide import PLANS, changed, example, frames_of_ramp, utc
from tests.decide.test_step import walk

NOON = utc("2026-12-03T10:00:00")
NOW = Moment(NOON, 0.0)


def test_a_bracketed_clip_shows_one_frame_of_each_bracket():
    """300 releases are 100 brackets of three: 4 s at 25 frames a second."""
    plan = changed(example("quay_at_dusk"), when={"stop": None, "frames": 300}, pace={"points": [[2, 20], [-6, 20]]})
    assert plan.clip.fps == 25
    for offsets, clip_s in ((None, 12.0), ([-2, 0, 2], 4.0)):
        plan = changed(plan, light={"bracket_ev": offsets})
        coming = forecast(plan, Adjust(), None, next(windows(plan, NOON)), None, NOW)
        assert (coming.frames_left, coming.clip_s) == (300, pytest.approx(clip_s))


@pytest.mark.parametrize("path", PLANS, ids=lambda p: p.stem)
def test_counts_what_the_slots_come_to(path):
    plan = example(path.stem)
    window = next(windows(plan, NOON))
    coming = forecast(plan, Adjust(), None, window, None, NOW)
    if window.stop_utc is None and window.frames is None:
        assert (coming.frames_left, coming.end_utc, coming.left_s, coming.clip_s) == (None, None, None, None)
        assert coming.points[-1].utc - window.start_utc == pytest.approx(12 * 3600)
        return
    slots, _ = walk(plan, window)
    assert coming.frames_left == pytest.approx(len(slots), abs=max(2, len(slots) * 0.003))
    assert coming.clip_s == pytest.approx(coming.frames_left / plan.clip.fps)
    last = slots[-1]
    assert coming.end_utc == pytest.approx(window.stop_utc or last.due_utc + last.interval_s, abs=last.interval_s * 2)
    for point in coming.points[:: len(coming.points) // 10]:
        slot = min(slots, key=lambda s, at=point.utc: abs(s.due_utc - at))
        assert point.interval_s == pytest.approx(slot.interval_s, rel=0.02)
        assert abs(point.exposure.ev - slot.exposure.ev) <= 0.67


@settings(max_examples=40, deadline=None)
@given(st.floats(3, 60), st.floats(3, 60), st.floats(1800, 30_000))
def test_a_timed_pace_against_the_closed_form(from_s, to_s, length_s):
    """N = T·ln(b/a)/(b−a)."""
    plan = changed(example("clouds_from_now"), pace={"from_s": from_s, "to_s": to_s, "over": None})
    window = Window(NOON, NOON + length_s)
    assume(abs(to_s - from_s) / length_s < 0.03)
    exact = frames_of_ramp(from_s, to_s, length_s)
    assert forecast(plan, Adjust(), None, window, None, NOW).frames_left == pytest.approx(exact, abs=1.01)


def test_from_the_middle_of_a_shoot_and_after_a_change_of_pace():
    plan = example("quay_at_dusk")
    window = next(windows(plan, NOON))
    progress = begin(plan, window, NOW, earliest_mono=0.0)
    for _ in range(300):
        moment = Moment(NOON + progress.due_mono, progress.due_mono)
        progress = used(progress, next_slot(plan, Adjust(), progress, None, moment), True)
    now = Moment(NOON + progress.due_mono, progress.due_mono)
    rest, _ = walk(plan, window, progress=progress)
    coming = forecast(plan, Adjust(), progress, window, None, now)
    assert coming.frames_left == pytest.approx(len(rest), abs=2)
    assert coming.clip_s == pytest.approx((300 + coming.frames_left) / 25)
    assert coming.left_s == pytest.approx(window.stop_utc - now.utc)
    slower = Adjust(pace=PaceChange(progress.interval_s, 20.0, now.utc, 600.0))
    assert forecast(plan, slower, progress, window, None, now).frames_left < 0.6 * coming.frames_left
