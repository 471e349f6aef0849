"""What a plan asks of camera and rig: by arithmetic, from a plan whose interval and exposure are given."""

from __future__ import annotations

import pytest

from controller.decide.advice.needs import Known
from controller.decide.checks.plan_facts import plan_facts
from controller.words.errors import BadInput
from tests.decide import changed, example, utc

HOUR = changed(
    example("quay_at_dusk"),
    when={"start": "2026-10-03T18:00", "stop": "2026-10-03T19:00"},
    pace={"kind": "steady", "interval_s": 10.0},
    light={"kind": "fixed", "shutter_s": 2.0, "aperture": 2.8, "iso": 400},
)
BEFORE = utc("2026-10-03T12:00:00+02:00")


def test_an_hour_at_ten_seconds():
    facts = plan_facts(HOUR, BEFORE, None, Known())
    assert facts.frames == 360
    assert (facts.shortest_exposure_s, facts.longest_exposure_s) == pytest.approx((2.0, 2.0))
    assert (facts.shortest_interval_s, facts.longest_interval_s) == (10.0, 10.0)
    assert (facts.least_gap_s, facts.least_step_s) == pytest.approx((8.0, 10.0))
    assert facts.on_pulses is facts.frees is False


def test_a_bracket_s_shortest_and_longest():
    """Two stops to either side of 2 s, in 20 s; within it the gap is the plan's, and the shortest comes 1.5 s apart."""
    light = {"bracket_ev": [-2, 0, 2]}
    facts = plan_facts(changed(HOUR, light=light, pace={"interval_s": 20.0, "min_gap_s": 1.0}), BEFORE, None, Known())
    assert facts.frames == 3 * 180
    assert (facts.shortest_exposure_s, facts.longest_exposure_s) == pytest.approx((0.5, 8.0))
    assert (facts.least_gap_s, facts.least_step_s) == pytest.approx((1.0, 1.5))


def test_half_of_it_is_left_at_half_past():
    assert plan_facts(HOUR, utc("2026-10-03T18:30:00+02:00"), None, Known()).frames == 180


def test_of_a_plan_that_is_over_nothing_is_asked():
    with pytest.raises(BadInput) as refusal:
        plan_facts(HOUR, utc("2026-10-03T19:30:00+02:00"), None, Known())
    assert refusal.value.remedy
