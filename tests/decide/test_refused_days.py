"""Days on which a window does not happen, beside days on which it does: what is shot and what is said."""

from __future__ import annotations

from datetime import date, datetime
from itertools import islice
from zoneinfo import ZoneInfo

import pytest

from controller.decide.moments import NoSuchEvent
from controller.decide.plan import Plan
from controller.decide.schedule import NoWindow, Window, days, windows, windows_of
from controller.words.errors import BadInput
from tests.decide import changed, example

TROMSO = ZoneInfo("Europe/Oslo")
STOCKHOLM = ZoneInfo("Europe/Stockholm")
WHEN = {"start": "sunset", "stop": "sunset+2h"}


def plan(zone: str = "Europe/Stockholm", place: tuple[float, float] = (57.7, 11.95), **when: object) -> Plan:
    site = {"latitude": place[0], "longitude": place[1], "timezone": zone}
    return changed(example("quay_at_dusk"), site=site, when={"start": None, "stop": None, **when})


def polar(**when: object) -> Plan:
    return plan("Europe/Oslo", (69.65, 18.96), **{**WHEN, **when})


def last_before_the_midnight_sun() -> Window:
    """The last window of spring."""
    found = islice(windows(polar(every="day", **{"from": "2026-05-01"}), _at(2026, 5, 1)), 60)
    spring = [w for w in found if isinstance(w, Window) and w.start_utc < _at(2026, 6, 20)]
    return spring[-1]


def _at(year: int, month: int, day: int, hour: float = 0.0) -> float:
    return datetime(year, month, day, tzinfo=TROMSO).timestamp() + 3600 * hour


def test_a_window_that_is_open_is_shot_though_today_has_none():
    last = last_before_the_midnight_sun()
    assert last.start_utc < _at(2026, 5, 20)  # the sun of Tromsø does not set from then on (almanacs, from memory)
    single = polar()
    assert next(windows(single, last.start_utc + 1800)) == last
    with pytest.raises(NoSuchEvent) as refusal:
        next(windows(single, last.start_utc + 26 * 3600))
    assert refusal.value.remedy


def test_a_day_without_the_event_is_refused_though_the_next_has_it():
    """The midnight sun ends: on the last day without a sunset there is none, however near tomorrow's is."""
    autumn = next(w for w in windows(polar(every="day"), _at(2026, 7, 1)) if isinstance(w, Window))
    with pytest.raises(NoSuchEvent):
        next(windows(polar(), autumn.start_utc - 26 * 3600))


def test_a_day_that_is_asked_for_and_has_no_window_says_why():
    with pytest.raises(NoSuchEvent) as refusal:
        list(windows_of(polar(), date(2026, 6, 20)))
    assert refusal.value.day == date(2026, 6, 20)
    assert refusal.value.remedy


def test_what_was_not_shot_stands_in_nobody_s_way():
    """Before its first day a plan shoots nothing, so that the early window of that day is free."""
    spans = [{"start": "22:00", "stop": "sunrise"}, {"start": "sunrise-1h", "stop": "sunrise-30min"}]
    both = plan(windows=spans, every="day", **{"from": "2026-10-03"})
    noon = datetime(2026, 10, 1, 12, tzinfo=STOCKHOLM).timestamp()
    found = [(day.day, one.part if isinstance(one, Window) else None) for day, one in islice(days(both, noon), 6)]
    assert [one for one in found if one[0] >= 3][:4] == [(3, 1), (3, 0), (4, None), (4, 0)]


def test_a_counted_window_cannot_begin_with_another():
    spans = [{"start": "18:00", "stop": "19:00"}, {"start": "18:00", "frames": 50}]
    noon = datetime(2026, 10, 3, 12, tzinfo=STOCKHOLM).timestamp()
    with pytest.raises(BadInput) as refusal:
        next(windows(plan(windows=spans), noon))
    assert refusal.value.code == "windows-overlap"


def test_a_counted_window_may_begin_as_another_ends():
    spans = [{"start": "18:00", "stop": "19:00"}, {"start": "19:00", "frames": 50}]
    noon = datetime(2026, 10, 3, 12, tzinfo=STOCKHOLM).timestamp()
    assert [one.part for one in windows(plan(windows=spans), noon)] == [0, 1]
    assert not any(isinstance(one, NoWindow) for _, one in islice(days(plan(windows=spans, every="day"), noon), 4))
