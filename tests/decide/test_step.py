"""Slot after slot: deadlines, intervals and exposures that always fit, restarts, holds and changes while shooting."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.decide.exposure import ANY_BODY, Body
from controller.decide.forecast import forecast
from controller.decide.meter import Reading
from controller.decide.pace import PaceChange, between
from controller.decide.resume import resume
from controller.decide.schedule import Window, windows
from controller.decide.step import (
    Adjust,
    Finished,
    Moment,
    Progress,
    Slot,
    after_hold,
    begin,
    check_adjust,
    metered,
    next_slot,
    used,
)
from controller.decide.sun import altitudes
from controller.words.documents import Frame
from controller.words.errors import BadInput
from tests.decide import PLANS, changed, example, utc

NOON = utc("2026-12-03T10:00:00")
PLAN = example("quay_at_dusk")
WINDOW = next(windows(PLAN, NOON))


def moment(progress: Progress, base_utc: float = NOON) -> Moment:
    """The moment at which the next slot is due, on a clock whose plan time began at `base_utc`."""
    return Moment(base_utc + progress.due_mono, progress.due_mono)


def walk(plan, window, *, adjust=lambda slot: Adjust(), body=None, progress=None, most=100_000):
    """Slots until the window is finished, each at its time, all released."""
    progress = progress or begin(plan, window, Moment(NOON, 0.0), earliest_mono=0.0)
    change = Adjust()
    slots: list[Slot] = []
    while len(slots) < most:
        slot = next_slot(plan, change, progress, body, moment(progress))
        if isinstance(slot, Finished):
            return slots, slot
        slots.append(slot)
        change = adjust(slot)
        progress = used(progress, slot, True)
    return slots, None


def test_deadlines_grow_from_each_other_and_end_at_the_stop():
    slots, end = walk(PLAN, WINDOW)
    assert end == Finished("the plan's stop was reached")
    assert slots[0].due_utc == pytest.approx(WINDOW.start_utc, abs=1e-6)
    for before, after in itertools.pairwise(slots):
        assert after.due_mono == before.due_mono + before.interval_s
        assert after.seq == before.seq + 1
    assert slots[-1].due_utc < WINDOW.stop_utc <= slots[-1].due_utc + slots[-1].interval_s


def test_a_late_question_does_not_move_the_deadline():
    progress = begin(PLAN, WINDOW, Moment(NOON, 0.0), earliest_mono=0.0)
    on_time = next_slot(PLAN, Adjust(), progress, None, moment(progress))
    late = next_slot(PLAN, Adjust(), progress, None, Moment(NOON + progress.due_mono + 3, progress.due_mono + 3))
    assert late.due_mono == on_time.due_mono
    assert late == pytest.approx(on_time) or replace(late, due_utc=on_time.due_utc) == on_time


def test_a_step_of_the_wall_clock_moves_the_stop_but_not_the_cadence():
    progress = begin(PLAN, WINDOW, Moment(NOON, 0.0), earliest_mono=0.0)
    first = next_slot(PLAN, Adjust(), progress, None, moment(progress))
    progress = used(progress, first, True)
    second = next_slot(PLAN, Adjust(), progress, None, Moment(NOON + 40 + progress.due_mono, progress.due_mono))
    assert second.due_mono == first.due_mono + first.interval_s
    assert second.due_utc == pytest.approx(first.due_utc + first.interval_s + 40, abs=1e-6)


def test_counted_windows_end_after_their_frames_and_missed_slots_do_not_count():
    plan = example("stars_over_a_ridge")
    window = Window(NOON, None, 5)
    progress = begin(plan, window, Moment(NOON, 0.0), earliest_mono=0.0)
    released = [True, False, True, True, False, True, True]
    for was in released:
        slot = next_slot(plan, Adjust(), progress, None, moment(progress))
        assert isinstance(slot, Slot)
        progress = used(progress, slot, was)
    assert next_slot(plan, Adjust(), progress, None, moment(progress)) == Finished("the plan's 5 frames are done")


def test_a_window_that_has_begun_starts_as_soon_as_can_be():
    progress = begin(PLAN, WINDOW, Moment(WINDOW.start_utc + 600, 50.0), earliest_mono=52.0)
    assert progress.due_mono == 52.0
    assert progress.due_utc == pytest.approx(WINDOW.start_utc + 602, abs=1e-3)


def test_interval_changes_by_a_few_percent_at_most_and_follows_the_sun():
    slots, _ = walk(PLAN, WINDOW)
    for before, after in itertools.pairwise(slots):
        assert 1 / 1.0401 <= after.interval_s / before.interval_s <= 1.0401
    dark = next(s for s in slots if s.sun_altitude_deg < -6)
    assert dark.interval_s == pytest.approx(9, rel=0.02)
    assert slots[0].interval_s == 5


def test_number_of_frames_is_the_integral_over_the_sun_s_path():
    """∫dt/interval up to the last slot, by Simpson's rule over altitudes from arrays, not from slots.

    Half a frame is what 0.01° between the two ways to the sun's altitude can make.
    """
    slots, _ = walk(PLAN, WINDOW)
    grid = np.linspace(slots[0].due_utc, slots[-1].due_utc, 2001)
    rate = [1 / between(PLAN.pace.points, h) for h in altitudes(57.7, 11.95, grid)]
    weights = np.array([1, *([4, 2] * 999), 4, 1])
    assert float(np.dot(weights, rate)) * (grid[1] - grid[0]) / 3 == pytest.approx(len(slots) - 1, abs=0.5)


triples = st.tuples(st.floats(1e-4, 60), st.floats(1, 1e4)).map(lambda p: (p[0], p[0] * p[1]))
adjusts = st.builds(
    Adjust,
    bias_ev=st.floats(-10, 10),
    shutter_s=st.none() | triples,
    aperture=st.none() | triples,
    iso=st.none() | triples,
    pace=st.none()
    | st.builds(
        PaceChange,
        st.floats(0.01, 400),
        st.floats(0.01, 400),
        st.floats(WINDOW.start_utc, WINDOW.stop_utc),
        st.floats(0, 4000),
    ),
)
bodies = st.none() | st.builds(
    Body,
    st.lists(st.integers(-39, 15), min_size=1, max_size=9).map(lambda ks: tuple(sorted(2.0 ** (k / 3) for k in ks))),
    st.just(()) | st.just(ANY_BODY.aperture),
    st.just(()) | st.just((100.0, 800.0)),
)
readings = st.none() | st.builds(
    Reading, st.floats(0, 1), st.floats(0, 1), st.floats(0, 1), st.just(160), st.just(120), st.just(0.18)
)
plans = st.sampled_from(
    [
        changed(plan, when={"start": "sunset-40min", "stop": "sunset+2h", "every": None, "frames": None, **drop})
        for path in PLANS
        for plan in [example(path.stem)]
        for drop in [{"duration": None, "from": None, "until": None, "skip": []}]
    ]
)


@settings(max_examples=150, deadline=None)
@given(plans, st.lists(st.tuples(adjusts, bodies, readings, st.booleans()), min_size=1, max_size=25))
def test_exposure_and_gap_always_fit_the_interval_whatever_is_changed(plan, changes):
    """Every slot, any change of pace and light however senseless, any body, any picture, missed or not."""
    autumn = utc("2026-10-03T10:00:00")
    window = next(windows(plan, autumn))
    progress = begin(plan, window, Moment(autumn, 0.0), earliest_mono=0.0)
    for adjust, body, reading, released in changes:
        slot = next_slot(plan, adjust, progress, body, moment(progress, autumn))
        assert isinstance(slot, Slot)
        assert slot.exposure.shutter_s + plan.pace.min_gap_s <= slot.interval_s + 1e-9
        assert slot.gap_s == pytest.approx(slot.interval_s - slot.exposure.shutter_s)
        assert all(math.isfinite(v) for v in (slot.target_ev, slot.sky_ev, slot.exposure.ev, slot.due_utc))
        progress = used(progress, slot, released)
        progress, scene = metered(plan, adjust, progress, slot, reading)
        assert (scene is None) == (reading is None)


def test_a_fixed_light_stays_fixed_and_the_interval_makes_room_for_it():
    plan = example("stars_over_a_ridge")
    window = Window(NOON, NOON + 3600)
    change = Adjust(pace=PaceChange(24, 5, NOON, 60))
    slots, _ = walk(plan, window, adjust=lambda slot: change)
    assert {s.exposure.iso for s in slots} == {3200}
    assert {round(s.exposure.shutter_s, 2) for s in slots} == {20.16}  # the dial's 20 s
    assert slots[-1].interval_s == pytest.approx(22.16, abs=0.01)


def test_iso_gives_way_where_the_interval_does_not_hold_the_shutter():
    night = changed(PLAN, when={"start": "nautical_dusk-5min"}, pace={"kind": "steady", "interval_s": 5.0})
    slots, _ = walk(night, next(windows(night, NOON)), most=5)
    assert slots[-1].exposure.shutter_s == pytest.approx(4)
    assert slots[-1].exposure.iso > 1000


NIGHTFALL = changed(PLAN, when={"start": "sunset+20min"}, pace={"kind": "steady", "interval_s": 5.0})


def test_the_interval_grows_instead_where_the_plan_lets_it():
    """By a few percent a frame up to the longest; ISO stays low as long as the interval still can grow."""
    plan = changed(NIGHTFALL, pace={"kind": "steady", "interval_s": 5.0, "stretch_to_s": 12.0})
    slots, _ = walk(plan, next(windows(plan, NOON)))
    without, _ = walk(NIGHTFALL, next(windows(NIGHTFALL, NOON)))
    assert {s.interval_s for s in without} == {5.0}
    steps = [b.interval_s / a.interval_s for a, b in itertools.pairwise(slots)]
    assert max(steps) <= 1.0401
    assert min(steps) >= 1 - 1e-3
    assert slots[0].interval_s == 5.0
    assert slots[-1].interval_s == pytest.approx(2 ** (10 / 3) + 1, abs=0.002)  # the dial's 10 s and the gap
    assert all(s.exposure.shutter_s + 1.0 <= s.interval_s + 1e-9 for s in slots)
    growing = [s for s in slots if 5.1 < s.interval_s < 10.9]
    assert len(growing) > 20
    assert max(s.exposure.iso for s in growing) <= 130  # a third of a stop while the interval is on its way
    assert slots[-1].exposure.shutter_s == pytest.approx(2 ** (10 / 3))
    jumps = [abs(b.exposure.ev - a.exposure.ev) for a, b in itertools.pairwise(slots)]
    assert max(jumps) <= 1 / 3 + 1e-6


def test_the_interval_shrinks_again_as_the_light_comes_back():
    stretch = {"kind": "steady", "interval_s": 5.0, "stretch_to_s": 12.0}
    plan = changed(PLAN, when={"start": "nautical_dawn", "stop": "sunrise+30min"}, pace=stretch)
    slots, _ = walk(plan, next(windows(plan, NOON)))
    assert slots[0].interval_s == pytest.approx(2 ** (10 / 3) + 1, abs=0.002)
    assert slots[-1].interval_s == 5.0
    assert max(a.interval_s / b.interval_s for a, b in itertools.pairwise(slots)) <= 1.0401


def test_the_forecast_counts_a_stretched_interval():
    stretch = {"kind": "steady", "interval_s": 5.0, "stretch_to_s": 12.0}
    for plan in (NIGHTFALL, changed(NIGHTFALL, pace=stretch)):
        window = next(windows(plan, NOON))
        slots, _ = walk(plan, window)
        frames = forecast(plan, Adjust(), None, window, None, Moment(NOON, 0.0)).frames_left
        assert frames == pytest.approx(len(slots), rel=0.01)


def test_settings_go_back_to_the_order_s_as_soon_as_the_interval_has_room():
    """The same exposure with a longer shutter and a lower ISO is no step, so that it need not wait for one."""
    change = Adjust(pace=PaceChange(5.0, 12.0, WINDOW.start_utc, 0.0))
    night = changed(NIGHTFALL, when={"start": "astronomical_dusk+30min", "stop": "astronomical_dusk+50min"})
    night = changed(night, site={"floor_lx": 1.0}, light={"max_ev_per_min": 60})
    slots, _ = walk(night, next(windows(night, NOON)), adjust=lambda slot: change)
    assert {round(s.exposure.ev, 6) for s in slots} == {round(slots[0].exposure.ev, 6)}
    assert slots[0].exposure.shutter_s == pytest.approx(4)
    assert slots[-1].exposure.shutter_s > 8
    assert slots[-1].exposure.iso < slots[0].exposure.iso / 2


def test_a_reading_that_is_no_number_is_answered_as_none():
    progress = begin(PLAN, WINDOW, Moment(NOON, 0.0), earliest_mono=0.0)
    slot = next_slot(PLAN, Adjust(), progress, None, moment(progress))
    progress = used(progress, slot, True)
    for wrong in (math.nan, math.inf):
        for reading in (Reading(wrong, 0.0, 0.0, 160, 120), Reading(0.2, wrong, 0.0, 160, 120)):
            assert metered(PLAN, Adjust(), progress, slot, reading) == (progress, None)


def test_a_pace_by_light_does_not_sway_with_clouds():
    """One cloud of five minutes and −1 EV: with 14 EV for a factor of 5 that would be 12 % of the interval."""
    plan = changed(PLAN, when={"start": "noon-1h", "stop": "noon+30min"})
    plan = changed(plan, pace={"kind": "light", "points": [[12.0, 4.0], [-2.0, 20.0]]})
    window = next(windows(plan, utc("2026-10-03T06:00:00")))
    progress, slots = begin(plan, window, Moment(window.start_utc, 0.0), earliest_mono=0.0), []
    while isinstance(slot := next_slot(plan, Adjust(), progress, None, moment(progress, window.start_utc)), Slot):
        slots.append(slot)
        since = slot.due_utc - window.start_utc
        scene = slot.sky_ev - 6.0 - (3600 < since < 3900)
        reading = Reading(0.18 * 2 ** (scene - slot.exposure.ev), 0.0, 0.0, 160, 120, 0.18)
        progress, _ = metered(plan, Adjust(), used(progress, slot, True), slot, reading)
    before, *rest = [s.interval_s for s in slots if s.due_utc - window.start_utc > 3590]
    assert 4.5 < before < 19
    assert 1.005 * before < max(rest) < 1.05 * before


def test_a_change_of_pace_starts_at_the_interval_in_force():
    slots, _ = walk(PLAN, WINDOW, most=200)
    in_force = slots[-1]
    change = Adjust(pace=PaceChange(in_force.interval_s, 12.0, in_force.due_utc, 600.0))
    after, _ = walk(PLAN, WINDOW, adjust=lambda slot: change if slot.seq >= 200 else Adjust(), most=500)
    assert after[200].interval_s == pytest.approx(in_force.interval_s, rel=0.04)
    assert after[-1].interval_s == 12.0
    steps = [b.interval_s / a.interval_s for a, b in itertools.pairwise(after)]
    assert max(steps) <= 1.0401


def frame_of(slot: Slot, **more) -> Frame:
    exposure = slot.exposure
    return Frame(
        shoot="s",
        seq=slot.seq,
        camera="c",
        due_utc=slot.due_utc,
        interval_s=slot.interval_s,
        shutter_s=exposure.shutter_s,
        aperture=exposure.aperture,
        iso=exposure.iso,
        exposure_ev=exposure.ev,
        **more,
    )


def test_a_restart_goes_on_with_interval_exposure_and_light_in_force():
    plan = changed(PLAN, when={"start": "sunset+25min"})
    window = next(windows(plan, NOON))
    progress = begin(plan, window, Moment(NOON, 0.0), earliest_mono=0.0)
    for _ in range(40):
        slot = next_slot(plan, Adjust(), progress, None, moment(progress))
        progress = used(progress, slot, True)
        over = slot.sky_ev + 2.0 - slot.exposure.ev  # a scene 2 EV brighter than the model
        progress, scene = metered(plan, Adjust(), progress, slot, Reading(0.18 * 2**over, 0.0, 0.0, 160, 120, 0.18))
    expected = next_slot(plan, Adjust(), progress, None, moment(progress))
    now = Moment(slot.due_utc + 60.0, 7.0)  # another boot: plan time begins anew
    for last in (frame_of(slot, scene_ev=scene), frame_of(slot)):
        again = resume(plan, window, now, last=last, frames_done=40)
        assert again.seq == slot.seq + 1
        assert again.due_utc == pytest.approx(slot.due_utc + slot.interval_s, abs=1e-3)
        assert again.due_mono == pytest.approx(7.0 - 60.0 + slot.interval_s)
        following = next_slot(plan, Adjust(), again, None, now)
        assert following.interval_s == pytest.approx(expected.interval_s, rel=0.001)
        assert abs(following.exposure.ev - expected.exposure.ev) <= 1 / 3 + 1e-6
        assert again.frames_done == 40


def test_a_hold_costs_no_missed_slots():
    progress = begin(PLAN, WINDOW, Moment(NOON, 0.0), earliest_mono=0.0)
    slot = next_slot(PLAN, Adjust(), progress, None, moment(progress))
    progress = used(progress, slot, True)
    held_until = progress.due_mono + 900
    going_on = after_hold(progress, Moment(NOON + held_until, held_until), held_until + 1)
    assert going_on.due_mono == held_until + 1
    assert going_on.seq == progress.seq
    soon = after_hold(progress, Moment(NOON + slot.due_mono + 1, slot.due_mono + 1), slot.due_mono + 2)
    assert soon.due_mono == progress.due_mono


@given(adjusts)
def test_changes_are_kept_as_documents(adjust):
    again = Adjust.from_document(adjust.document())
    assert replace(again, pace=None) == replace(adjust, pace=None)
    if adjust.pace is not None:
        assert again.pace == replace(adjust.pace, start_utc=pytest.approx(adjust.pace.start_utc, abs=0.001))


@pytest.mark.parametrize(
    ("plan", "adjust", "where"),
    [
        ("quay_at_dusk", Adjust(shutter_s=(2.0, 1.0)), "shutter_s"),
        ("quay_at_dusk", Adjust(iso=(0.0, 100.0)), "iso"),
        ("quay_at_dusk", Adjust(iso=(100.0, math.inf)), "iso"),
        ("quay_at_dusk", Adjust(aperture=(math.nan, 4.0)), "aperture"),
        ("quay_at_dusk", Adjust(bias_ev=math.nan), "bias_ev"),
        ("quay_at_dusk", Adjust(bias_ev=11.0), "bias_ev"),
        ("quay_at_dusk", Adjust(shutter_s=(8.0, 18.0)), "shutter_s"),
        ("quay_at_dusk", Adjust(pace=PaceChange(5, 0.9, NOON, 60)), "to_s"),
        ("quay_at_dusk", Adjust(pace=PaceChange(5, math.nan, NOON, 60)), "to_s"),
        ("quay_at_dusk", Adjust(pace=PaceChange(5, 9, NOON, -1)), "over_s"),
        ("stars_over_a_ridge", Adjust(pace=PaceChange(24, 20, NOON, 60)), "to_s"),
        ("stars_over_a_ridge", Adjust(bias_ev=1.0), "bias_ev"),
    ],
)
def test_changes_without_sense_are_refused(plan, adjust, where):
    with pytest.raises(BadInput) as refusal:
        check_adjust(example(plan), adjust)
    assert (refusal.value.code, refusal.value.where) == ("bad-change", where)
    assert refusal.value.remedy


def test_changes_with_sense_are_accepted():
    plan = example("quay_at_dusk")
    check_adjust(plan, Adjust(bias_ev=-1.0, iso=(100.0, 6400.0), shutter_s=(0.001, 20.0)))
    check_adjust(plan, Adjust(pace=PaceChange(5, 9, NOON, 0)))
    check_adjust(plan, Adjust(shutter_s=(8.0, 18.0), pace=PaceChange(5, 20, NOON, 60)))
    check_adjust(example("stars_over_a_ridge"), Adjust(shutter_s=(10.0, 15.0)))


@pytest.mark.parametrize(("to_s", "says"), [(0.001, "is too short for"), (90_000.0, "is longer than a day")])
def test_an_interval_out_of_range_is_told_by_the_side_on_which_it_is(to_s, says):
    with pytest.raises(BadInput, match=says):
        check_adjust(example("quay_at_dusk"), Adjust(pace=PaceChange(5, to_s, NOON, 0)))
