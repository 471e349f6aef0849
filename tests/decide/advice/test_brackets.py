"""What a bracketed plan comes to. The reference is the slots that are really decided, and arithmetic by hand."""

from __future__ import annotations

import re

import pytest

from controller.decide.advice.ahead import look_ahead
from controller.decide.plan import Plan
from controller.decide.schedule import windows
from controller.words.advice import PlanSummary
from tests.decide import changed, example
from tests.decide.advice.test_advise import BODY, NOON, OPTICS, asked
from tests.decide.test_step import walk
from tests.support.bodies import beat

OFFSETS = (-2.0, 0.0, 2.0)
PLAN = changed(
    example("quay_at_dusk"),
    light={"bracket_ev": list(OFFSETS), "iso": [100, 12800]},
    pace={"points": [[2, 8.0], [-6, 15.0], [-14, 30.0]]},
    optics=OPTICS,
)


def steady(interval_s: float) -> Plan:
    return changed(PLAN, pace={"kind": "steady", "interval_s": interval_s})


def warned(found: PlanSummary, words: str) -> str | None:
    """What is warned of in these words, and the remedy."""
    return next((f"{w.what}. {w.remedy}" for w in found.warnings if words in w.what), None)


def test_the_exposures_foretold_are_those_that_come():
    """A bracket that its interval does not hold lowers the shutter of all its frames; ISO gives way."""
    slots, _ = walk(PLAN, next(windows(PLAN, NOON)))
    (ahead,), _ = look_ahead(PLAN, NOON, None)
    points = [p for p in ahead.points if p.utc < ahead.end_utc - 60][::20]
    for point in points:
        nearest = min(range(0, len(slots) - 2, 3), key=lambda n, at=point.utc: abs(slots[n].due_utc - at))
        three = [slot.exposure for slot in slots[nearest : nearest + 3]]
        assert [e.ev for e in point.exposures] == pytest.approx([e.ev for e in three], abs=0.67)
        assert [e.shutter_s for e in point.exposures] == pytest.approx([e.shutter_s for e in three], rel=0.6)
        assert point.exposure == point.exposures[1]
        assert point.together_s <= point.interval_s - 3 * PLAN.pace.min_gap_s + 1e-9
    assert max(point.longest.shutter_s for point in points) == max(slot.exposure.shutter_s for slot in slots)
    assert asked(PLAN).windows[0].marks[-1].exposure.shutter_s == slots[-2].exposure.shutter_s


def test_a_bracket_that_its_interval_does_not_hold():
    """At the highest ISO each of the three may last 16 s, and has a gap."""
    assert PLAN.pace.min_gap_s == 1.0
    told = warned(asked(PLAN), "the interval holds the shutter")
    assert told is not None
    assert "use intervals of 51 s from there on" in told
    (held,) = [w for w in asked(PLAN).warnings if "the interval holds the shutter" in w.what]
    (ahead,), _ = look_ahead(PLAN, NOON, None)
    dark = next(p.utc for p in ahead.points if p.exposures[2].iso > 100)
    assert held.utc == pytest.approx(dark, abs=600)
    assert held.what.startswith(f"from {plan_clock(held.utc)} ")
    assert warned(asked(steady(40.0)), "the interval holds the shutter")
    assert warned(asked(steady(51.0)), "the interval holds the shutter") is None


def test_stars_trail_in_the_longest_of_a_bracket():
    """Two stops above 2 s are 8 s: 15.041″ · 8 s is 0.583 mrad, 2.37 pixels of 5.9 µm at 24 mm (by hand)."""
    light = {"kind": "fixed", "shutter_s": 2.0, "aperture": 2.8, "iso": 1600}
    alone = asked(changed(steady(30.0), light=light)).stars
    three = asked(changed(steady(30.0), light=light | {"bracket_ev": list(OFFSETS)})).stars
    assert (alone.exposure_s, three.exposure_s) == pytest.approx((2.0, 8.0))
    assert three.trail_px == pytest.approx(2.37, abs=0.01)


def test_of_frames_alike_in_length_the_one_with_most_light_tells_what_may_make_up():
    """Late at night all three stand at one time, and the last at the highest ISO: nothing is left of that."""
    found = asked(PLAN)
    assert found.stars.iso == pytest.approx(12800)
    told = warned(found, "stars trail")
    assert told is not None
    assert "ISO and aperture are at their limits" in told


def test_the_sun_in_the_longest_of_a_bracket():
    """Two stops above 1/8 s, half a second: its disc burns in (planning.md)."""
    light = {"kind": "fixed", "shutter_s": 0.125, "aperture": 22, "iso": 100}
    view = {"azimuth_deg": 224.0, "altitude_deg": 5.0}
    alone = changed(steady(30.0), light=light, view=view)
    assert warned(asked(alone), "expect flare")
    assert warned(asked(changed(alone, light={"bracket_ev": [0, 2]})), "with exposures of up to 0.5 s: its disc burns")


def test_a_body_that_needs_its_time_between_the_shortest_of_a_bracket():
    """Held at 4 s with 2 s, so a gap of 2.4 s and 4.8 s from release to release are safe. By day the darkest frame is
    over at once and the gap alone, 3 s, is too short; by night each of the three is longer than 2 s."""
    body = BODY.model_copy(update={"beats": [beat(4.0, exposure_s=2.0)]})
    told = warned(asked(changed(PLAN, pace={"min_gap_s": 3.0, "points": [[2, 12.0], [-14, 40.0]]}), body=body), "apart")
    assert told is not None
    assert "releases are 3 s apart at 1/500 s" in told
    ends = re.search(r"to (\d\d:\d\d) releases", told)
    assert ends is not None
    (ahead,), _ = look_ahead(changed(PLAN, pace={"min_gap_s": 3.0, "points": [[2, 12.0], [-14, 40.0]]}), NOON, None)
    late = [p for p in ahead.points if p.utc <= ahead.end_utc and p.exposures[0].shutter_s < 1.8]
    assert f"{plan_clock(late[-1].utc)}" == ends[1]


def plan_clock(utc: float) -> str:
    """Hours and minutes in Sweden in winter, an hour ahead of UTC."""
    minutes = int(utc // 60) + 60
    return f"{minutes // 60 % 24:02}:{minutes % 60:02}"
