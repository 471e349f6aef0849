"""Intervals: between points, in time, after a change, and how fast they may change."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from controller.decide.pace import PaceChange, between, interval_at, next_interval, told
from controller.decide.plan import ByLight, BySun, Steady, Timed
from controller.decide.schedule import Window
from tests.decide import frames_of_ramp

WINDOW = Window(1000.0, 4600.0)
POINTS = ((2.0, 5.0), (-6.0, 9.0), (-14.0, 22.0))


def at(pace, utc, *, change=None, sun=0.0, ev=0.0, window=WINDOW):
    return interval_at(pace, change, window, utc, lambda _: sun, lambda _: ev)


def test_steady():
    assert at(Steady(kind="steady", interval_s=7.5), 2000.0) == 7.5


def test_by_sun_is_geometric_between_points_and_constant_beyond():
    pace = BySun(kind="sun", points=POINTS)
    assert at(pace, 0, sun=30) == pytest.approx(5)
    assert at(pace, 0, sun=2) == pytest.approx(5)
    assert at(pace, 0, sun=-2) == pytest.approx(math.sqrt(5 * 9))
    assert at(pace, 0, sun=-6) == pytest.approx(9)
    assert at(pace, 0, sun=-12) == pytest.approx(9 * (22 / 9) ** 0.75)
    assert at(pace, 0, sun=-40) == pytest.approx(22)


def test_points_may_ascend_or_descend():
    assert between(POINTS, -3.3) == between(tuple(reversed(POINTS)), -3.3)


def test_by_light():
    pace = ByLight(kind="light", points=((10.0, 4.0), (-4.0, 20.0)))
    assert at(pace, 0, ev=12) == pytest.approx(4)
    assert at(pace, 0, ev=3) == pytest.approx(math.sqrt(80))


@given(st.floats(-90, 90), st.floats(-90, 90))
def test_monotone_points_give_a_monotone_interval(one, other):
    low, high = sorted((one, other))
    assert between(POINTS, low) >= between(POINTS, high) - 1e-9


def test_timed_fills_the_window_or_the_time_that_it_is_given():
    pace = Timed(kind="timed", from_s=10, to_s=30)
    assert [at(pace, utc) for utc in (900, 1000, 2800, 4600, 9999)] == pytest.approx([10, 10, 20, 30, 30])
    short = Timed(kind="timed", from_s=10, to_s=30, over="30min")
    assert [at(short, utc) for utc in (1000, 1900, 2800, 4000)] == pytest.approx([10, 20, 30, 30])


@settings(deadline=None)
@given(st.floats(2, 100), st.floats(2, 100), st.floats(600, 20_000))
def test_frames_of_a_timed_pace_are_the_integral(from_s, to_s, length_s):
    """N = ∫dt/interval = T·ln(b/a)/(b−a): closed form; 10 s to 30 s in an hour are 197.75."""
    assume(abs(to_s - from_s) / length_s < 0.03)  # steeper, the limit on change rules
    pace = Timed(kind="timed", from_s=from_s, to_s=to_s)
    window = Window(0.0, length_s)
    due, frames, interval_s = 0.0, 0, None
    while due < length_s - 1e-6:
        last = due
        interval_s = next_interval(lambda t: at(pace, t, window=window), due, interval_s, 0.04)
        due += interval_s
        frames += 1
    assert frames_of_ramp(from_s, to_s, length_s, last) == pytest.approx(frames - 1, abs=0.05)
    assert frames_of_ramp(from_s, to_s, length_s) == pytest.approx(frames, abs=1.05)


def test_the_worked_example_of_a_linear_ramp():
    """10 s to 30 s linearly over an hour: 3600·ln 3/20 = 197.75, arithmetic."""
    assert frames_of_ramp(10, 30, 3600) == pytest.approx(197.75, abs=0.005)


@given(st.floats(0.2, 500), st.floats(0.2, 500), st.floats(0.001, 0.2))
def test_never_changes_by_more_than_it_may(in_force_s, asked_s, most):
    interval_s = next_interval(lambda _: asked_s, 0.0, in_force_s, most)
    assert in_force_s / (1 + most) - 1e-9 <= interval_s <= in_force_s * (1 + most) + 1e-9
    assert min(in_force_s, asked_s) - 1e-9 <= interval_s <= max(in_force_s, asked_s) + 1e-9


def test_a_change_while_shooting_starts_from_the_interval_in_force():
    pace = Steady(kind="steady", interval_s=5.0)
    change = PaceChange(from_s=5.0, to_s=9.0, start_utc=2000.0, over_s=400.0)
    asked = [at(pace, utc, change=change) for utc in (1999, 2000, 2200, 2400, 4000)]
    assert asked == pytest.approx([5, 5, 7, 9, 9])
    sudden = PaceChange(from_s=5.0, to_s=9.0, start_utc=2000.0, over_s=0.0)
    assert at(pace, 2000.0, change=sudden) == 9
    assert PaceChange.from_document(change.document()) == change


@pytest.mark.parametrize(
    ("from_s", "to_s", "over_s", "most", "words"),
    [
        (12.0, 5.0, 0.0, 0.04, "interval to 5 s over 0 s, at most 4 % a frame: there in about 3 min"),
        (5.0, 7.0, 10.0, 0.04, "interval to 7 s over 10 s, at most 4 % a frame: there in about 50 s"),
        (5.0, 60.0, 600.0, 0.01, "interval to 60 s over 600 s, at most 1 % a frame: there in about 92 min"),
        (5.0, 9.0, 2400.0, 0.04, "interval to 9 s over 2400 s"),
        (5.0, 5.1, 0.0, 0.04, "interval to 5.1 s over 0 s"),
    ],
)
def test_a_change_says_how_long_it_takes_where_it_may_not_be_so_quick(from_s, to_s, over_s, most, words):
    """Held to the walk frame by frame: as long as it says, within an interval and what the words round off."""
    change = PaceChange(from_s, to_s, 1000.0, over_s)
    assert told(change, most) == words
    utc, interval_s = 1000.0, from_s
    while not math.isclose(interval_s, to_s, rel_tol=1e-6):
        interval_s = next_interval(lambda t: at(None, t, change=change), utc, interval_s, most)
        utc += interval_s
    if "about" in words:
        number, unit = words.split()[-2:]
        said_s = float(number) * {"s": 1, "min": 60}[unit]
        assert utc - 1000.0 == pytest.approx(said_s, abs=2 * max(from_s, to_s) + 30)
    else:
        assert utc - 1000.0 <= over_s + 2 * to_s
