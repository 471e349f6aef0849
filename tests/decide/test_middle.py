"""What the light rule rests on, term by term: the middle of an exposure, biases, headings, doubts.

With 16 s open in a dusk that falls by 0.2 EV a minute, an exposure's beginning and middle are 0.03 EV apart.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from controller.decide import follow
from controller.decide.place import place_at
from controller.decide.schedule import windows
from controller.decide.step import Adjust, Moment, Progress, Slot, begin, next_slot, used
from tests.decide import changed, example, utc
from tests.decide.test_follow import WIDE

NOON = utc("2026-10-03T10:00:00")
LONG = changed(
    WIDE,
    when={"start": "civil_dusk", "stop": "nautical_dusk"},
    light={"shutter_s": [16, 16], "iso": [100, 102400], "aperture": [16, 16], "bias_ev": 0.6},
    pace={"kind": "steady", "interval_s": 18.0, "points": None, "min_gap_s": 1.0},
)


def walk(count: int, light: follow.Light) -> tuple[list[Slot], list[Progress]]:
    """Slots of a dusk, and the progress after each."""
    progress = replace(begin(LONG, next(windows(LONG, NOON)), Moment(NOON, 0.0), earliest_mono=0.0), light=light)
    slots, after = [], []
    for _ in range(count):
        slot = next_slot(LONG, Adjust(), progress, None, Moment(NOON + progress.due_mono, progress.due_mono))
        assert isinstance(slot, Slot)
        progress = used(progress, slot, True)
        slots.append(slot)
        after.append(progress)
    return slots, after


def model_ev(slot: Slot, after_s: float) -> float:
    return place_at(LONG.site, slot.due_utc).model_ev(slot.due_utc + after_s)


def test_the_sky_is_that_of_the_middle_of_the_exposure():
    for slot in walk(20, follow.Light())[0]:
        assert slot.exposure.shutter_s == pytest.approx(16)
        assert slot.sky_ev == pytest.approx(model_ev(slot, 8.0), abs=1e-6)
        assert model_ev(slot, 0.0) - model_ev(slot, 8.0) > 0.02


def test_the_exposure_is_chosen_for_its_middle_too():
    """The scene 1.3 EV above the sky, at a brightness of 0 down to EV 5: target = scene − bias. The first slot and the
    others go separate ways to it."""
    known = follow.Light(utc=NOON, offset_ev=1.3, variance=0.01, rate_variance=0.0)
    slots = walk(20, known)[0]
    for slot in slots:
        scene_ev = model_ev(slot, 8.0) + 1.3
        assert slot.target_ev == pytest.approx(scene_ev - follow.along(follow.NIGHT, scene_ev) - 0.6, abs=1e-6)


def test_the_plan_s_bias_and_one_while_shooting_add_up():
    rule = example("quay_at_dusk").light
    biased = rule.model_copy(update={"bias_ev": 0.7})
    assert follow.target_ev(rule, 12.0, 30.0) == pytest.approx(12.0)
    assert follow.target_ev(biased, 12.0, 30.0) == pytest.approx(11.3)
    assert follow.target_ev(biased, 12.0, 30.0, bias_ev=-0.2) == pytest.approx(11.5)


def test_the_last_step_s_direction_is_kept_until_the_next():
    slots, after = walk(20, follow.Light(utc=NOON, variance=0.01))
    evs = [slot.exposure.ev for slot in slots]
    first = next(k for k in range(1, 20) if evs[k] < evs[k - 1])
    assert [progress.heading for progress in after[:first]] == [0] * first
    assert {progress.heading for progress in after[first:]} == {-1}
    assert evs[first] in evs[first + 1 :]  # so there were slots without a step
    brighter = replace(slots[-1], exposure=replace(slots[-1].exposure, ev=evs[-1] + 1))
    assert used(after[-1], brighter, True).heading == 1


def test_a_doubt_is_as_old_as_its_first_reading():
    """Three readings that agree have to agree for 12 s: at 2 s that takes seven, however small they are."""
    light = follow.Light()
    for k in range(60):
        light = follow.measured(light, 1e9 + 2 * k, 5.0, 5.0, 0.0, 0.0)
    believed = []
    for k in range(60, 70):
        light = follow.measured(light, 1e9 + 2 * k, 5.0, 5.47, 0.0, 0.0)
        believed.append(light.offset_ev > 0.3)
    assert believed.index(True) == 6


def test_readings_to_both_sides_do_not_confirm_each_other():
    light = follow.Light()
    for k in range(60):
        light = follow.measured(light, 1e9 + 6 * k, 5.0, 5.0, 0.0, 0.0)
    for k in range(60, 66):
        light = follow.measured(light, 1e9 + 6 * k, 5.0, 5.0 + 3.0 * (-1) ** k, 0.0, 0.0)
        assert (light.doubts, abs(light.offset_ev) < 0.05) == (1, True)


def test_readings_agree_where_half_an_ev_or_half_of_the_surprise_is_between_them():
    """A lamp of 0.7 EV that is read as 1 EV is one lamp; one that is read as 1.5 EV begins a doubt of its own."""
    calm = follow.Light()
    for k in range(60):
        calm = follow.measured(calm, 1e9 + 6 * k, 5.0, 5.0, 0.0, 0.0)
    for first, then, doubts in ((0.7, 1.0, 2), (0.7, 1.5, 1), (3.0, 5.0, 2), (3.0, 6.5, 1)):
        light = follow.measured(calm, 1e9 + 360, 5.0, 5.0 + first, 0.0, 0.0)
        assert light.doubts == 1
        assert follow.measured(light, 1e9 + 366, 5.0, 5.0 + then, 0.0, 0.0).doubts == doubts
