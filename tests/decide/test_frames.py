"""Frames are ∫dt/interval: slots as they really come, and the forecast, against closed forms, over random plans."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from controller.decide.forecast import forecast
from controller.decide.plan import Plan, plan_from
from controller.decide.schedule import Window
from controller.decide.step import Adjust, Finished, Moment, begin, next_slot, used
from controller.decide.sun import position
from tests.decide import frames_of_ramp, utc

EQUINOX = utc("2026-03-20T12:00:00")
"""At the equator at an equinox the sun goes straight up and straight down: its altitude is linear in time."""

MOST = 1000  # frames in one plan: two hundred plans take seconds, and 0.05 % is half a frame


def plan(pace: dict[str, object]) -> Plan:
    return plan_from(
        {
            "name": "frames",
            "site": {"latitude": 0.0, "longitude": 0.0},
            "when": {"start": "2026-03-20T12:00:00Z", "duration": "1h"},
            "pace": {"min_gap_s": 0.1, "max_change": 1.0, **pace},
            "light": {"kind": "fixed", "shutter_s": 0.01, "aperture": 8, "iso": 100},
        }
    )


def slots(of: Plan, window: Window) -> int:
    """How many slots really come."""
    progress, count = begin(of, window, Moment(window.start_utc, 0.0), earliest_mono=0.0), 0
    while True:
        moment = Moment(window.start_utc + progress.due_mono, progress.due_mono)
        slot = next_slot(of, Adjust(), progress, None, moment)
        if isinstance(slot, Finished):
            return count
        progress, count = used(progress, slot, True), count + 1


def check(of: Plan, window: Window, exact: float) -> None:
    """The integral within half a frame, and whole frames within one of it.

    The first slot is at the start, so that what is left of an interval at the end has a frame too: the whole number is
    the integral rounded up. Intervals are whole milliseconds, which moves it by a part of a frame in a thousand.
    """
    coming = forecast(of, Adjust(), None, window, None, Moment(window.start_utc, 0.0))
    assert coming.points[-1].frames == pytest.approx(exact, abs=0.5)
    assert coming.frames_left is not None
    assert abs(coming.frames_left - math.ceil(exact)) <= 1
    assert abs(slots(of, window) - math.ceil(exact)) <= 1


@settings(max_examples=80)
@given(st.floats(1.5, 60), st.floats(1.5, 60), st.floats(600, 30_000), st.floats(0.3, 1.5))
def test_an_interval_that_runs_linearly_in_time(from_s, to_s, length_s, over):
    """T·ln(b/a)/(b−a); the ramp may end before the window, or after it."""
    over_s = round(length_s * over, 3)
    exact = frames_of_ramp(from_s, to_s, over_s, min(over_s, length_s)) + max(0.0, length_s - over_s) / to_s
    assume(5 < exact < MOST)
    assume(abs(to_s - from_s) / over_s < 0.2)
    of = plan({"kind": "timed", "from_s": from_s, "to_s": to_s, "over": f"{over_s}s"})
    check(of, Window(EQUINOX, EQUINOX + length_s), exact)


@settings(max_examples=80)
@given(st.floats(1.5, 60), st.floats(1.5, 60), st.floats(-2, 2), st.floats(3600, 12_000))
def test_an_interval_by_a_sun_that_sinks_evenly(high_s, low_s, start_h, length_s):
    """Geometric in an altitude that is linear in time is exponential in time: T·(1/a − 1/b)/ln(b/a)."""
    from_utc = EQUINOX + 4.5 * 3600 + start_h * 1200
    window = Window(from_utc, from_utc + length_s)
    heights = [position(0.0, 0.0, utc)[0] for utc in (window.start_utc, window.stop_utc)]
    middle = position(0.0, 0.0, from_utc + length_s / 2)[0]
    assert middle == pytest.approx(sum(heights) / 2, abs=0.01)  # linear indeed
    growth = math.log(low_s / high_s)
    exact = length_s / high_s * (-math.expm1(-growth) / growth if abs(growth) > 1e-9 else 1.0)
    assume(5 < exact < MOST)
    assume(abs(growth) < 1.5)  # two series for the sun, 0.005° apart, make no more than 0.05 % of interval then
    of = plan({"kind": "sun", "points": [[heights[0], high_s], [heights[1], low_s]]})
    check(of, window, exact)


@settings(max_examples=40)
@given(st.floats(0.5, 60), st.floats(60, 30_000))
def test_one_interval_throughout(interval_s, length_s):
    """T / I, with the interval as the engine keeps it, in whole milliseconds."""
    exact = length_s / round(interval_s, 3)
    assume(2 < exact < MOST)
    check(plan({"kind": "steady", "interval_s": interval_s}), Window(EQUINOX, EQUINOX + length_s), exact)


def test_worked_by_hand():
    """From 10 s to 30 s linearly over an hour: 3600·ln 3/20 = 197.75 frames."""
    of = plan({"kind": "timed", "from_s": 10.0, "to_s": 30.0, "over": "1h"})
    check(of, Window(EQUINOX, EQUINOX + 3600.0), 197.75)
