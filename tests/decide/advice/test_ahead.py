"""Windows that are walked ahead: which ones closely, what stands at a moment, and how days and moments are said."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

import pytest

from controller.decide.advice.advise import advise
from controller.decide.advice.ahead import Ahead, dated, elsewhere, local, look_ahead, minute, stretch
from controller.decide.advice.phases import clock_change
from controller.decide.plan import Plan
from tests.decide import changed, example, utc
from tests.decide.advice.test_advise import NOON

QUAY = example("quay_at_dusk")
START = utc("2026-12-03T17:00:00")  # 18:00 in Sweden


def clocked(start: str, duration: str, interval_s: float = 10.0, **when: object) -> Plan:
    times = {"start": start, "stop": None, "duration": duration, **when}
    return changed(QUAY, when=times, pace={"kind": "steady", "interval_s": interval_s})


def only(plan: Plan, at: float | date = NOON) -> Ahead:
    (found,), _ = look_ahead(plan, at, None)
    return found


def test_a_year_is_looked_at_closely_where_nights_are_shortest_and_longest():
    """The first three windows, the last, and those at the solstices: 21 June and 21 or 22 December (Meeus, ch. 27)."""
    plan = clocked("21:00", "1h", 600.0, every="day", until="2027-12-31")
    found, _ = look_ahead(plan, date(2027, 1, 1), None)
    assert len(found) == 365
    closely = [date.fromisoformat(local(plan, a.begin_utc)[:10]) for a in found if a.fine]
    assert [f"{day:%m-%d}" for day in closely] == ["01-01", "01-02", "01-03", "06-21", "12-21", "12-31"]
    assert [len(a.points) > 100 for a in found] == [a.fine for a in found]


def test_of_several_windows_a_day_each_is_looked_at():
    windows = [{"start": "06:00", "duration": "1h"}, {"start": "21:00", "duration": "1h"}]
    when = {"start": None, "stop": None, "windows": windows, "every": "day", "until": "2027-07-31"}
    plan = changed(QUAY, when=when, pace={"kind": "steady", "interval_s": 600.0})
    found, _ = look_ahead(plan, date(2027, 6, 1), None)
    closely = {local(plan, a.begin_utc)[:13] for a in found if a.fine}
    assert closely >= {"2027-06-21T06", "2027-06-21T21", "2027-07-31T06", "2027-07-31T21"}
    assert len(closely) <= 12


@pytest.mark.parametrize("hours", [1, 7, 24])
def test_closely_is_to_the_minute(hours: int):
    points = only(clocked("2026-12-03T18:00", f"{hours}h")).points
    assert max(b.utc - a.utc for a, b in pairwise(points)) <= 60 + 1e-6


def test_a_window_without_an_end_is_looked_at_to_the_minute_too():
    points = only(clocked("2026-12-03T18:00", None)).points
    assert points[-1].utc - points[0].utc == pytest.approx(12 * 3600)
    assert points[1].utc - points[0].utc <= 60 + 1e-6


def test_frames_and_interval_at_a_moment():
    """One frame every 10 s from 18:00 on; a ramp from 10 to 30 s over two hours stands at 20 s in its middle."""
    ahead = only(clocked("2026-12-03T18:00", "2h"))
    for second in (0, 1, 59, 3333, 7200):
        frames, interval_s, point = ahead.at(START + second)
        assert frames == pytest.approx(second / 10, abs=1e-6)
        assert interval_s == pytest.approx(10.0)
        assert abs(point.utc - (START + second)) <= min(abs(p.utc - (START + second)) for p in ahead.points) + 1e-6
    assert ahead.at(START - 999)[0] == 0.0
    assert ahead.at(START + 99_999)[0] == pytest.approx(720)
    ramp = changed(clocked("2026-12-03T18:00", "2h"), pace={"kind": "timed", "from_s": 10.0, "to_s": 30.0})
    assert only(ramp).at(START + 3600)[1] == pytest.approx(20.0, abs=0.1)


def test_when_so_many_frames_are_done():
    ahead = only(clocked("2026-12-03T18:00", "2h"))
    for frames in (0, 1, 6.5, 333, 719.9):
        assert ahead.utc_of(frames) == pytest.approx(START + 10 * frames, abs=1e-3)
    assert ahead.utc_of(721) is None


def test_an_open_window_begins_when_it_is_asked_for():
    assert only(clocked("18:00", "2h"), START + 1800).begin_utc == START + 1800
    assert only(clocked("18:00", "2h"), date(2026, 12, 3)).begin_utc == START
    assert only(clocked("18:00", "2h"), START - 1800).begin_utc == START


# ---- days without a window


WEEKLY = clocked("18:00", "2h", every=["fri", "sat"], until="2027-01-09", skip=["2027-01-01"])


@pytest.mark.parametrize(
    ("day", "says"),
    [
        (date(2026, 12, 4), None),  # a Friday
        (date(2026, 12, 3), "3 Dec is not a day of the plan; the next window is on 4 Dec."),
        (date(2026, 12, 30), "30 Dec is not a day of the plan; the next window is on 2 Jan 2027."),
        (date(2027, 1, 1), "1 Jan is skipped by the plan; the next window is on 2 Jan."),
    ],
)
def test_a_day_without_a_window_says_why_and_when_the_next_is(day: date, says: str | None):
    assert elsewhere(WEEKLY, day) == says
    assert advise(WEEKLY, day, now_utc=NOON).elsewhere == says


def test_days_that_are_left_out_are_told_and_those_that_are_none_are_not():
    found = advise(WEEKLY, date(2026, 12, 1), now_utc=NOON)
    assert [(day.day, day.cause) for day in found.skipped] == [("2027-01-01", "skipped by the plan")]


def test_what_is_so_on_several_evenings_is_said_of_one():
    """Of two the first, or the worst: by the limits of ISO 100 pictures are darkest on the night without a moon."""
    plan = changed(WEEKLY, light={"iso": [100, 100], "shutter_s": [0.001, 4.0]}, when={"until": "2026-12-12"})
    told = {w.remedy: w.what for w in advise(plan, date(2026, 12, 4), now_utc=NOON).warnings}
    dark = next(what for what in told.values() if "darker than wanted" in what)
    assert dark.startswith("worst on ")
    alone = changed(plan, when={"until": "2026-12-04"})
    once = [w.what for w in advise(alone, date(2026, 12, 4), now_utc=NOON).warnings if "darker" in w.what]
    assert once[0].startswith("from 18:00")
    two = changed(plan, when={"until": "2026-12-05"})
    both = [w.what for w in advise(two, date(2026, 12, 4), now_utc=NOON).warnings if "darker" in w.what]
    assert both[0].startswith(("worst on 4 Dec 2026: from 18:00", "worst on 5 Dec 2026: from 18:00"))
    fast = {"kind": "timed", "from_s": 4.0, "to_s": 400.0, "over": "10min"}
    quick = [w.what for w in advise(changed(two, pace=fast), date(2026, 12, 4), now_utc=NOON).warnings]
    assert any(what.startswith("first on 4 Dec 2026: the interval is to change by") for what in quick)


def test_a_plan_for_one_date_asked_for_another():
    plan = changed(QUAY, when={"date": "2026-12-10"})
    assert elsewhere(plan, date(2026, 12, 10)) is None
    assert elsewhere(plan, date(2026, 12, 3)) == "No window starts on 3 Dec; the next window is on 10 Dec."
    open_still = clocked("2026-12-03T18:00", "72h")
    assert elsewhere(open_still, date(2026, 12, 5)) == "No window starts on 5 Dec; the window is on 3 Dec."
    years = clocked("2027-01-03T18:00", "2h")
    assert elsewhere(years, date(2026, 12, 24)) == "No window starts on 24 Dec; the next window is on 3 Jan 2027."


# ---- how moments are said


def test_moments_by_the_site_s_clock():
    """An hour ahead of UTC in winter; 3 December 2026 is a Thursday."""
    assert local(QUAY, START + 0.6) == "2026-12-03T18:00:01+01:00"
    assert dated(QUAY, START) == "Thu 03 Dec 18:00"
    assert minute(QUAY, START, START - 17 * 3600) == "18:00"
    assert minute(QUAY, START, START - 19 * 3600) == "Thu 18:00"  # the day before
    assert minute(QUAY, START, START - 43 * 3600) == "Thu 03 Dec 18:00"
    assert minute(QUAY, START, START + 7 * 3600) == "Thu 03 Dec 18:00"  # beside a day after
    assert stretch(QUAY, START, START + 90, START, " (a)", " (b)") == "from 18:00 (a) to 18:01 (b)"
    assert stretch(QUAY, START, START + 59, START, " (a)", " (b)") == "at 18:00 (a)"


def test_a_change_of_the_clock_is_found_to_the_second():
    """The European Union's, at 01:00 UTC on the last Sunday of October (Directive 2000/84/EC)."""
    at = utc("2026-10-25T01:00:00")
    change = clock_change(QUAY, at - 5 * 86400, at + 12_345)
    assert change is not None
    assert (change.utc, change.by_s) == (at, -3600)
    assert (change.before, change.after) == ("2026-10-25T02:59:59+02:00", "2026-10-25T02:00:00+01:00")
    assert clock_change(QUAY, at + 1, at + 86400) is None
