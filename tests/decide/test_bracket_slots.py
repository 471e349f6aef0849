"""A bracketed plan, slot after slot."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from controller.decide.exposure import Body
from controller.decide.forecast import forecast
from controller.decide.meter import Reading
from controller.decide.plan import plan_from
from controller.decide.resume import resume
from controller.decide.schedule import windows
from controller.decide.step import Adjust, Finished, Moment, after_hold, begin, check_adjust, metered, next_slot, used
from controller.words.brackets import index_of
from controller.words.documents import Frame
from controller.words.errors import BadInput
from tests.decide import changed, example
from tests.decide.test_step import NOON, moment, walk

OFFSETS = (-2.0, 0.0, 2.0)
PLAN = changed(example("quay_at_dusk"), light={"bracket_ev": list(OFFSETS)})
WINDOW = next(windows(PLAN, NOON))
GAP_S = PLAN.pace.min_gap_s


def brackets(slots):
    return [slots[k : k + 3] for k in range(0, len(slots) - 2, 3)]


def test_every_release_is_a_slot_and_the_whole_bracket_fits_its_interval():
    slots, end = walk(PLAN, WINDOW)
    assert end == Finished("the plan's stop was reached")
    assert [s.seq for s in slots] == list(range(1, len(slots) + 1))
    for before, after in itertools.pairwise(slots):
        assert after.due_mono == pytest.approx(before.due_mono + before.interval_s, abs=1e-9)
        assert before.gap_s >= GAP_S - 1e-9
        assert before.exposure.shutter_s + before.gap_s == pytest.approx(before.interval_s)
    for first, second, third in brackets(slots):
        assert first.interval_s == pytest.approx(first.exposure.shutter_s + GAP_S)
        assert second.interval_s == pytest.approx(second.exposure.shutter_s + GAP_S)
        whole_s = first.interval_s + second.interval_s + third.interval_s
        assert whole_s == pytest.approx(first.bracket.interval_s)


def test_the_frames_of_a_bracket_are_as_far_apart_as_asked():
    slots, _ = walk(PLAN, WINDOW)
    by_day = [b for b in brackets(slots) if b[2].exposure.iso == 100]
    assert len(by_day) > 50
    for under, right, over in by_day:
        assert under.exposure.ev - right.exposure.ev == pytest.approx(2, abs=1 / 3)
        assert right.exposure.ev - over.exposure.ev == pytest.approx(2, abs=1 / 3)
        assert [under.target_ev, over.target_ev] == pytest.approx([right.target_ev + 2, right.target_ev - 2])


def test_the_interval_of_the_whole_bracket_is_that_of_the_pace():
    """The plan without a bracket is the reference: as many brackets as it has frames, within one in a hundred."""
    alone, _ = walk(example("quay_at_dusk"), WINDOW)
    slots, _ = walk(PLAN, WINDOW)
    assert len(slots) / 3 == pytest.approx(len(alone), rel=0.01)


def test_only_the_frame_at_0_ev_tells_of_the_light():
    progress = begin(PLAN, WINDOW, Moment(NOON, 0.0), earliest_mono=0.0)
    before = progress.light
    for offset in OFFSETS:
        slot = next_slot(PLAN, Adjust(), progress, None, moment(progress))
        progress = used(progress, slot, True)
        progress, scene_ev = metered(PLAN, Adjust(), progress, slot, Reading(0.3, 0.0, 0.0, 160, 120))
        assert scene_ev is not None
        assert (progress.light != before) == (offset >= 0)


def test_a_bracket_that_has_begun_is_kept_whatever_is_metered_or_changed_meanwhile():
    progress = begin(PLAN, WINDOW, Moment(NOON, 0.0), earliest_mono=0.0)
    first = next_slot(PLAN, Adjust(), progress, None, moment(progress))
    progress = used(progress, first, True)
    second = next_slot(PLAN, Adjust(bias_ev=3), progress, None, moment(progress))
    assert second.bracket == first.bracket
    progress = used(used(progress, second, True), replace(second, seq=3), False)
    fourth = next_slot(PLAN, Adjust(bias_ev=3), progress, None, moment(progress))
    assert fourth.target_ev == pytest.approx(first.target_ev - 3, abs=0.1)


@pytest.mark.parametrize(("held_s", "is_kept"), [(5.0, True), (1500.0, False)])
def test_a_hold_within_a_bracket(held_s: float, is_kept: bool):
    """A short one changes nothing. In 25 minutes of dusk the light falls by stops: what is left of the bracket, still
    in step, is exposed for the light that is there then."""
    progress = begin(PLAN, WINDOW, Moment(WINDOW.start_utc, 0.0), earliest_mono=0.0)
    for _ in range(1201):
        slot = next_slot(PLAN, Adjust(), progress, None, moment(progress, WINDOW.start_utc))
        progress = used(progress, slot, True)
    later = progress.due_mono + held_s
    progress = after_hold(progress, Moment(WINDOW.start_utc + later, later), later)
    for offset in (0, 2, -2, 0):
        after = next_slot(PLAN, Adjust(), progress, None, moment(progress, WINDOW.start_utc))
        progress = used(progress, after, True)
        assert OFFSETS[index_of(after.seq, OFFSETS)] == offset
        assert after.exposure.ev == pytest.approx(after.sky_ev - offset, abs=0.6)
        if is_kept and after.seq <= 1203:
            assert after.bracket == slot.bracket


def test_a_missed_slot_and_a_restart_keep_frames_in_step():
    slots, _ = walk(PLAN, WINDOW, most=8)
    last = slots[-1]
    row = Frame(
        shoot="s",
        seq=last.seq,
        camera="c",
        due_utc=last.due_utc,
        interval_s=last.interval_s,
        shutter_s=last.exposure.shutter_s,
        aperture=last.exposure.aperture,
        iso=last.exposure.iso,
        target_ev=last.target_ev,
        sun_altitude_deg=0.0,
        sun_azimuth_deg=0.0,
        moon_altitude_deg=0.0,
        state="released",
    )
    now = Moment(last.due_utc + 0.5, 100.0)
    progress = resume(PLAN, WINDOW, now, last=row, frames_done=8)
    after = next_slot(PLAN, Adjust(), progress, None, now)
    assert after.seq == 9
    assert after.due_utc == pytest.approx(last.due_utc + last.interval_s, abs=1e-3)
    assert index_of(after.seq, OFFSETS) == 2
    assert after.exposure.ev == pytest.approx(slots[1].exposure.ev - 2, abs=0.7)


def test_a_count_of_frames_counts_releases():
    counted = changed(PLAN, when={"stop": None, "frames": 30})
    slots, end = walk(counted, next(windows(counted, NOON)))
    assert len(slots) == 30
    assert end == Finished("the plan's 30 frames are done")


@pytest.mark.parametrize("when", [{}, {"stop": None, "frames": 300}])
def test_the_forecast_counts_releases(when):
    plan = changed(PLAN, when=when)
    window = next(windows(plan, NOON))
    slots, _ = walk(plan, window)
    coming = forecast(plan, Adjust(), None, window, None, Moment(window.start_utc, 0.0))
    assert coming.frames_left == pytest.approx(len(slots), rel=0.01)
    assert coming.end_utc == pytest.approx(slots[-1].due_utc + slots[-1].interval_s, abs=30)


def test_a_fixed_exposure_is_bracketed_by_its_shutter():
    light = {"kind": "fixed", "shutter_s": 0.5, "aperture": 8, "iso": 100, "bracket_ev": [0, -1, 1]}
    plan = changed(example("quay_at_dusk"), light=light, pace={"kind": "steady", "interval_s": 5, "min_gap_s": 0.5})
    slots, _ = walk(plan, next(windows(plan, NOON)), most=6)
    assert [s.exposure.shutter_s for s in slots] == pytest.approx([0.5, 0.25, 1] * 2)
    assert [s.interval_s for s in slots] == pytest.approx([1, 0.75, 3.25] * 2)


def test_a_body_that_is_slower_than_the_plan_thinks_stretches_the_interval():
    slow = Body((1.0, 2.0, 4.0), (), (100.0, 200.0))
    plan = changed(PLAN, pace={"kind": "steady", "interval_s": 4, "min_gap_s": 1})
    slots, _ = walk(plan, next(windows(plan, NOON)), body=slow, most=9)
    for three in brackets(slots):
        assert sum(s.interval_s for s in three) == pytest.approx(6)


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ({"bracket_ev": [0]}, "[light] bracket_ev"),
        ({"bracket_ev": [-2, 0, 0]}, "[light] bracket_ev: has the same exposure twice"),
        ({"bracket_ev": [0, 7]}, "[light] bracket_ev[1]: 7 is out of range. Use at most 6"),
        ({"bracket_ev": [0.1 * k for k in range(10)]}, "[light] bracket_ev"),
        ({"bracket_ev": [0, float("nan")]}, "[light] bracket_ev[1]"),
        ({"bracket_ev": "HDR"}, "[light] bracket_ev"),
        ({"bulb": 1}, "[light] bulb"),
    ],
)
def test_brackets_that_make_no_sense_are_refused_in_one_line(keys, says):
    document = example("quay_at_dusk").document()
    document["light"] |= keys
    with pytest.raises(BadInput) as refused:
        plan_from(document)
    assert says in str(refused.value)
    assert str(refused.value).count("\n") == 0


def test_a_bracket_that_no_interval_of_the_plan_holds_is_refused():
    with pytest.raises(BadInput, match=r"an interval of 2.5 s is shorter than the shortest bracket of 3 exposures"):
        changed(PLAN, pace={"kind": "steady", "interval_s": 2.5, "min_gap_s": 1.0})
    light = {"kind": "fixed", "shutter_s": 1, "aperture": 8, "iso": 100, "bracket_ev": [-2, 0, 2]}
    with pytest.raises(BadInput, match=r"shortest bracket of 3 exposures, 5.25 s, and the gaps of 3 s"):
        changed(PLAN, light=light, pace={"kind": "steady", "interval_s": 8.2, "min_gap_s": 1.0})
    with pytest.raises(BadInput, match="does not fit the interval"):
        check_adjust(PLAN, Adjust(shutter_s=(1.0, 2.0)))


def test_any_order_and_no_frame_at_0_ev():
    plan = changed(PLAN, light={"bracket_ev": [3, -1]})
    assert plan_from(plan.document()) == plan
    slots, _ = walk(plan, WINDOW, most=4)
    assert slots[1].exposure.ev - slots[0].exposure.ev == pytest.approx(4, abs=1 / 3)
