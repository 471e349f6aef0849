"""Windows from plans: one-off, dated, repeated, across midnight and changes of the clock, under the midnight sun."""

from __future__ import annotations

import itertools
from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import example as case
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.decide.moments import sun_events
from controller.decide.schedule import NoWindow, Window, days, windows
from controller.decide.sun import RISE_SET_DEG, altitudes
from controller.words.errors import BadInput
from tests.decide import changed, example, utc


def one(plan, now: str) -> Window:
    found = list(windows(plan, utc(now)))
    assert len(found) == 1
    return found[0]


def test_an_evening_by_the_sun():
    """Boulder, 2026-03-20: sunset 01:12:53, nautical dusk 02:11:22 UTC of the 21st (skyfield with DE421)."""
    plan = changed(
        example("quay_at_dusk"), site={"latitude": 39.74, "longitude": -105.18, "timezone": "America/Denver"}
    )
    window = one(plan, "2026-03-20T18:00:00")
    assert window.start_utc == pytest.approx(utc("2026-03-21T01:12:53") - 45 * 60, abs=10)
    assert window.stop_utc == pytest.approx(utc("2026-03-21T02:11:22") + 30 * 60, abs=10)


def test_the_open_window_until_it_is_over_then_the_next():
    plan = example("quay_at_dusk")
    first = one(plan, "2026-10-03T10:00:00")
    assert one(plan, "2026-10-03T17:00:00") == first
    assert next(windows(plan, first.stop_utc - 1)) == first
    assert next(windows(plan, first.stop_utc)).start_utc == pytest.approx(first.start_utc + 86400 - 170, abs=20)


def test_a_window_over_midnight_is_found_again_after_midnight():
    plan = changed(example("quay_at_dusk"), when={"stop": "astronomical_dawn"})
    window = one(plan, "2026-10-03T10:00:00")
    assert window.stop_utc - window.start_utc > 8 * 3600
    assert one(plan, "2026-10-03T23:30:00") == window
    assert one(plan, "2026-10-04T01:00:00") == window


def test_from_now_for_a_while_and_counted_and_until_stopped():
    clouds = example("clouds_from_now")
    assert one(clouds, "2026-10-03T10:00:00") == Window(utc("2026-10-03T10:00:00"), utc("2026-10-03T12:30:00"))
    stars = one(example("stars_over_a_ridge"), "2026-10-03T10:00:00")
    assert (stars.stop_utc, stars.frames) == (None, 600)
    open_end = example("until_stopped")
    assert one(open_end, "2026-10-03T10:00:00") == Window(utc("2026-10-03T18:30:00+02:00"))
    assert one(open_end, "2026-10-03T20:00:00") == Window(utc("2026-10-03T18:30:00+02:00"))
    assert one(open_end, "2026-10-04T06:00:00") == Window(utc("2026-10-04T18:30:00+02:00"))


def test_local_times_across_a_change_of_the_clock():
    """Central Europe leaves summer time on 2026-10-25 at 03:00 (IANA time zone database)."""
    plan = changed(example("until_stopped"), when={"start": "2026-10-24T22:00", "stop": "2026-10-25T06:00"})
    window = one(plan, "2026-10-24T10:00:00")
    assert window.stop_utc is not None
    assert window.stop_utc - window.start_utc == 9 * 3600


def test_a_dated_plan_and_one_that_is_over():
    plan = changed(example("quay_at_dusk"), when={"date": "2026-12-24"})
    window = one(plan, "2026-10-03T10:00:00")
    zone = ZoneInfo("Europe/Stockholm")
    assert datetime.fromtimestamp(window.start_utc, zone).date() == date(2026, 12, 24)
    with pytest.raises(BadInput, match="window is over") as refusal:
        one(plan, "2026-12-25T10:00:00")
    assert refusal.value.code == "window-past"


@pytest.mark.parametrize(
    ("start", "stop", "code"),
    [
        ("nautical_dusk-30min", "sunset+10min", "stop-before-start"),
        ("sunset", "nautical_dusk-3h", "stop-before-start"),
        ("2026-10-03T18:00:00+02:00", "2026-10-03T12:00", "stop-before-start"),
    ],
)
def test_times_that_cross_on_the_day(start, stop, code):
    plan = changed(example("quay_at_dusk"), when={"start": start, "stop": stop})
    with pytest.raises(BadInput) as refusal:
        one(plan, "2026-10-03T10:00:00")
    assert refusal.value.code == code


def test_an_event_that_does_not_happen_is_refused_with_what_there_is_and_the_next_day_that_has_it():
    """Tromsø, 2026-06-21: the sun does not set (skyfield with DE421)."""
    plan = changed(example("quay_at_dusk"), site={"latitude": 69.65, "longitude": 18.96, "timezone": "Europe/Oslo"})
    with pytest.raises(BadInput) as refusal:
        one(plan, "2026-06-21T10:00:00")
    error = refusal.value
    assert (error.code, error.where) == ("no-such-event", "[when] start")
    assert "there is no sunset at latitude 69.65 on 2026-06-21: the sun stays above" in error.what
    assert "That day has noon; the next sunset is on 2026-07-2" in error.remedy


def test_polar_night_keeps_its_twilight():
    """Longyearbyen, 2026-12-21: nautical dusk 11:52:45 UTC, no sunset (skyfield with DE421)."""
    happens = sun_events(78.22, 15.65, "Arctic/Longyearbyen", date(2026, 12, 21))
    assert "sunset" not in happens
    assert happens["nautical_dusk"] == pytest.approx(utc("2026-12-21T11:52:45"), abs=60)


def test_a_site_for_a_winter():
    plan = example("tower_for_a_winter")
    found = list(windows(plan, utc("2026-10-03T10:00:00")))
    zone = ZoneInfo("Europe/Amsterdam")
    shot = [datetime.fromtimestamp(w.start_utc, zone).date() for w in found]
    every = [date.fromordinal(n) for n in range(date(2026, 12, 1).toordinal(), date(2027, 3, 1).toordinal())]
    wanted = [d for d in every if d.weekday() < 5 and d not in (date(2026, 12, 25), date(2027, 1, 1))]
    assert shot == wanted
    answers = dict(days(plan, utc("2026-12-20T10:00:00")))
    assert answers[date(2026, 12, 25)] == NoWindow(date(2026, 12, 25), "skipped by the plan")
    assert answers[date(2026, 12, 26)] == NoWindow(date(2026, 12, 26), "not a day of the plan")
    with pytest.raises(BadInput, match="nothing is left"):
        list(windows(plan, utc("2027-03-05T10:00:00")))


def test_days_without_the_event_are_answered_not_raised():
    plan = changed(
        example("quay_at_dusk"),
        site={"latitude": 69.65, "longitude": 18.96, "timezone": "Europe/Oslo"},
        when={"stop": None, "duration": "1h", "every": "day", "from": "2026-05-10", "until": "2026-08-10"},
    )
    answers = list(days(plan, utc("2026-05-01T00:00:00")))
    lit = [day for day, answer in answers if isinstance(answer, NoWindow)]
    lowest = {
        day: altitudes(69.65, 18.96, utc(f"{day}T10:44:00") + np.arange(0.0, 86400.0, 60.0)).min() for day, _ in answers
    }
    assert lit == [day for day, low in lowest.items() if low > RISE_SET_DEG]
    assert len(lit) > 60


def test_a_stop_after_midnight_belongs_to_the_evening_before():
    """Started after midnight, while the long dusk of a late April night in the north still lasts."""
    plan = changed(example("quay_at_dusk"), when={"start": "now", "stop": "astronomical_dusk"})
    dusk = sun_events(57.7, 11.95, "Europe/Stockholm", date(2026, 4, 26))["astronomical_dusk"]
    now = utc("2026-04-27T00:05:00+02:00")
    assert now < dusk < now + 7200
    assert next(windows(plan, now)).stop_utc == dusk


@settings(max_examples=60, deadline=None)
@case(0.0, 0.0, "Pacific/Auckland", date(2026, 9, 23))  # twelve hours from the sun's time, over a change of the clock
@given(
    st.floats(-75, 75),
    st.floats(-180, 180),
    st.sampled_from(["UTC", "Pacific/Auckland", "America/Denver", "Europe/Oslo", "Pacific/Apia", "Asia/Kolkata"]),
    st.dates(date(2026, 1, 1), date(2027, 12, 31)),
)
def test_windows_neither_overlap_nor_get_lost_wherever_the_clock_stands(latitude, longitude, zone, day):
    plan = changed(
        example("quay_at_dusk"),
        site={"latitude": latitude, "longitude": longitude, "timezone": zone},
        when={"start": "noon+1h", "stop": "noon+20h", "every": "day", "from": day.isoformat()},
    )
    now = utc(f"{day.isoformat()}T00:00:00")
    found = list(itertools.islice(windows(plan, now), 5))
    for before, after in itertools.pairwise(found):
        assert before.stop_utc is not None
        assert before.stop_utc <= after.start_utc
        assert after.start_utc - before.start_utc == pytest.approx(86400, abs=60)
        assert next(windows(plan, before.stop_utc)) == after
        assert next(windows(plan, before.stop_utc - 1)) == before
