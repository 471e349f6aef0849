"""Which window comes next, whatever the clock does: a rig's days are played through with a clock that steps."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.decide.plan import Plan, plan_from
from controller.decide.schedule import Window
from controller.decide.turnover import BACK_S, begun_before, rebased, stepped, turnover
from tests.decide import utc

DAY_S, HOUR_S, YEAR_S = 86_400.0, 3600.0, 365.25 * 86_400.0
NOON = utc("2026-11-25T12:00:00")


def daily(**when: object) -> Plan:
    return plan_from(
        {
            "name": "daily",
            "site": {"latitude": 46.5, "longitude": 8.0},
            "when": {k: v for k, v in {"every": "day", "start": "18:00", "stop": "19:00", **when}.items() if v},
            "pace": {"kind": "steady", "interval_s": 10.0},
            "light": {"kind": "fixed", "shutter_s": 1.0, "aperture": 2.8, "iso": 800},
        }
    )


@dataclass
class Rig:
    """The engine's loop without an engine: looks every half minute, waits, shoots a window to its end."""

    plan: Plan
    steps: list[tuple[float, float]]  # when, in seconds that never step, and by how much
    mono: float = 0.0
    offset: float = NOON
    begun: list[float] = field(default_factory=list)
    begun_starts: list[float] = field(default_factory=list)
    shot: list[tuple[float, float, float]] = field(default_factory=list)  # start as planned, begin and end by mono
    passed: list[Window] = field(default_factory=list)

    @property
    def now(self) -> float:
        return self.mono + self.offset

    def go_to(self, mono: float) -> float:
        """Let time pass; how much the clock stepped meanwhile."""
        due = sum(step for at, step in self.steps if self.mono < at <= mono)
        self.mono, self.offset = mono, self.offset + due
        self.begun_starts = rebased(self.begun_starts, due)
        return due

    def run(self, days: float) -> None:
        while self.mono < days * DAY_S:
            found = turnover(self.plan, NOON, self.begun_starts, self.now)
            self.passed.extend(found.passed)
            window = found.window
            assert window is not None
            if self.wait_for(window, days):
                self.shoot(window)

    def wait_for(self, window: Window, days: float) -> bool:
        while window.start_utc > self.now and self.mono < days * DAY_S:
            if self.go_to(self.mono + min(120.0, window.start_utc - self.now)):
                return False
        return self.mono < days * DAY_S

    def shoot(self, window: Window) -> None:
        planned, begin = window.start_utc, self.mono
        self.begun_starts.append(window.start_utc)
        while (left := window.stop_utc - self.now) > 0:
            if step := self.go_to(self.mono + min(10.0, left)):
                window = stepped(window, step)
        self.shot.append((planned, begin, self.mono))
        self.begun_starts.append(window.start_utc)


times = st.floats(1.0, 6 * DAY_S)


@settings(max_examples=60)
@given(st.lists(st.tuples(times, st.sampled_from([-HOUR_S, -1.5, 1.5, HOUR_S])), max_size=5))
def test_small_steps_neither_lose_nor_double_a_window(steps):
    rig = Rig(daily(), steps)
    rig.run(7)
    planned = [start for start, _, _ in rig.shot]
    assert len(set(planned)) == len(planned)
    days = sorted(
        {int((start - NOON) // DAY_S) for start in planned} | {int((w.start_utc - NOON) // DAY_S) for w in rig.passed}
    )
    assert days == list(range(7)) or days == list(range(6))  # the last may lie beyond the end by the clock
    assert not {w.start_utc for w in rig.passed} & set(planned)
    for _, begin, end in rig.shot:
        assert end - begin <= HOUR_S + 20  # none is made longer than planned


@settings(max_examples=30)
@given(times, st.floats(HOUR_S, 1.5 * DAY_S), st.sampled_from([-10 * YEAR_S, 10 * YEAR_S, -30 * DAY_S, 30 * DAY_S]))
def test_a_clock_that_is_wrong_for_a_while(at, lasting, step):
    """Whatever is shot meanwhile, once the clock is right again every day has its window, once."""
    rig = Rig(daily(), [(at, step), (at + lasting, -step)])
    rig.run(10)
    right = [(start, begin) for start, begin, _ in rig.shot if not at <= begin < at + lasting]
    starts = [start for start, _ in right]
    assert len(set(starts)) == len(starts)
    for day in range(10):
        start_mono = day * DAY_S + 6 * HOUR_S  # of the window from 18:00 by the right clock
        if at - 2 * HOUR_S < start_mono < at + lasting + 2 * HOUR_S:
            continue
        assert NOON + start_mono in starts, day
    for start, begin in right:
        if begin < at:
            assert begin == pytest.approx(start - NOON, abs=121)


def test_a_clock_that_comes_up_years_ahead_tells_what_it_passed_and_does_not_drown_in_it():
    found = turnover(daily(), NOON, [], NOON + 3 * YEAR_S)
    assert found.window is not None
    assert found.window.start_utc >= NOON + 3 * YEAR_S - HOUR_S
    assert len(found.passed) == BACK_S / DAY_S


def test_a_shoot_made_by_a_clock_years_ahead_is_shot_when_the_clock_is_right():
    found = turnover(daily(), NOON + 10 * YEAR_S, [NOON + 10 * YEAR_S], NOON)
    assert found.window == Window(NOON + 6 * HOUR_S, NOON + 7 * HOUR_S)


def test_a_single_window_is_shot_once():
    plan = daily(every=None, start="now", stop=None, duration="2h")
    first = turnover(plan, NOON, [], NOON)
    assert first.window == Window(NOON, NOON + 2 * HOUR_S)
    for now in (NOON + 60, NOON + 3 * HOUR_S, NOON - HOUR_S, NOON + 10 * YEAR_S):
        assert turnover(plan, NOON, [NOON], now).window is None


@settings(max_examples=30)
@given(times, st.floats(HOUR_S, 1.5 * DAY_S), st.sampled_from([-DAY_S, DAY_S, -2 * DAY_S, 2 * DAY_S]))
def test_a_clock_that_is_wrong_by_days_leaves_every_evening_its_window(at, lasting, step):
    """By the time of day it was right all along: an evening has its window, once, whatever day the rig took it for."""
    rig = Rig(daily(), [(at, step), (at + lasting, -step)])
    rig.run(9)
    begins = [begin for _, begin, _ in rig.shot]
    evenings = [int(begin // DAY_S) for begin in begins]
    assert evenings == list(range(9))
    assert [begin % DAY_S for begin in begins] == [pytest.approx(6 * HOUR_S, abs=31)] * 9


def test_a_window_under_way_is_taken_up_as_it_was_written_down():
    plan = daily(stop=None, frames=300)
    moved = NOON + 6 * HOUR_S + HOUR_S  # the clock was put forward while it was shot
    assert begun_before(plan, NOON, moved, None) == Window(moved, None, 300)
    spans = [{"start": "06:00", "stop": "07:00"}, {"start": "18:00", "frames": 50}]
    several = daily(start=None, stop=None, windows=spans)
    assert begun_before(several, NOON, moved, None) == Window(moved, None, 50, 1)
    assert begun_before(several, NOON, NOON + 18.2 * HOUR_S, NOON + 19.2 * HOUR_S).part == 0
    once = daily(every=None, start="now", stop=None, duration="2h")
    assert begun_before(once, NOON, moved, moved + 7200) == Window(moved, moved + 7200)


@pytest.mark.parametrize("step_s", [-10 * YEAR_S, -DAY_S, -HOUR_S, HOUR_S, DAY_S, 10 * YEAR_S])
def test_a_start_by_hand_is_over_once_it_was_begun_whatever_the_clock_says(step_s: float):
    """After a step, a window from now on has the name of another."""
    plan = daily(every=None, start="now", stop=None, duration="2h")
    for begun in ([NOON, NOON + step_s], [NOON + step_s]):
        assert turnover(plan, NOON, begun, NOON + step_s + 2 * HOUR_S).window is None


def test_a_counted_window_of_a_plan_for_many_days_is_begun_at_its_start_or_not_at_all():
    plan = daily(stop=None, frames=300)
    today, tomorrow = (Window(NOON + hours * HOUR_S, None, 300) for hours in (6, 30))
    for created, window in ((NOON, today), (today.start_utc, today), (today.start_utc + 1, tomorrow)):
        assert turnover(plan, created, [], created).window == window


def test_a_window_under_way_is_the_plan_s_nearest_to_either_side_whenever_its_shoot_was_made():
    spans = [{"start": "06:00", "stop": "07:00"}, {"start": "18:00", "frames": 50}]
    several = daily(start=None, stop=None, windows=spans)
    for created in (NOON, NOON + 10 * YEAR_S):  # the latter by a clock that was wrong
        for begun in (NOON + 5.9 * HOUR_S, NOON + 6.1 * HOUR_S):
            assert begun_before(several, created, begun, None) == Window(begun, None, 50, 1)


@pytest.mark.parametrize(("off_s", "same"), [(-61.0, False), (-60.0, True), (0.0, True), (60.0, True)])
def test_starts_that_differ_by_a_minute_are_the_same_window_s(off_s, same):
    """The sun's hours are worked out again after an update."""
    start = NOON + 6 * HOUR_S
    found = turnover(daily(), NOON, [start + off_s], start + 120)
    assert found.window is not None
    assert found.window.start_utc == (start + DAY_S if same else start)
