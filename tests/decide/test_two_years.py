"""Windows of every day of 2026 and 2027 at ten places, against DE421 by skyfield and clocks by dateutil.

Places, and the scanning for events, are those of tests/decide/ephemeris.py: from the equator to a degree from the pole,
north and south. Days are told apart by skyfield's own meridian passages.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from dateutil import tz

from controller.decide.plan import Plan, plan_from
from controller.decide.schedule import Window, days
from controller.words.errors import BadInput
from tests.decide.ephemeris import FROM_UTC, PLACES, crossings, transits

YEARS = 2.01  # the last evening lies in the year after
SET_DEG = -50 / 60  # the sun's centre at rise and set: 34′ of refraction and its radius
FIRST, LAST = date(2026, 1, 1), date(2027, 12, 31)
ZONES = {
    "Quito": "America/Guayaquil",
    "Sydney": "Australia/Sydney",
    "Boulder": "America/Denver",
    "Gothenburg": "Europe/Stockholm",
    "Ushuaia": "America/Argentina/Ushuaia",
    "Reykjavik": "Atlantic/Reykjavik",
    "Tromsø": "Europe/Oslo",
    "Longyearbyen": "Arctic/Longyearbyen",
    "McMurdo": "Antarctica/McMurdo",
    "one degree from the pole": "UTC",
}


def plan(place: str, **when: object) -> Plan:
    latitude, longitude = PLACES[place]
    return plan_from(
        {
            "name": "two-years",
            "site": {"latitude": latitude, "longitude": longitude, "timezone": ZONES[place]},
            "when": {"every": "day", "from": FIRST.isoformat(), "until": LAST.isoformat()} | when,
            "pace": {"kind": "steady", "interval_s": 60.0},
            "light": {"kind": "follow", "aperture": 8},
        }
    )


def found(asked: Plan) -> tuple[dict[date, list[Window]], int]:
    """The windows by day, and how many days have none."""
    by_day: dict[date, list[Window]] = defaultdict(list)
    without = 0
    try:
        for day, one in days(asked, FROM_UTC - 3 * 86_400):
            if isinstance(one, Window):
                by_day[day].append(one)
            else:
                without += 1
    except BadInput as error:  # nothing on any day, which is said once all have been looked at
        if error.code != "no-window" or by_day:
            raise
    return by_day, without


def by_sun_day(place: str, level_deg: float, *, rising: bool) -> dict[date, float]:
    """When the sun passes an altitude, by the local day in whose middle, by the sun, the noon next to it lies."""
    seen, noons = transits(place, YEARS)
    utc = crossings(seen.utc, seen.altitude - level_deg, rising, seen.utc[-1], seen.utc[0])
    zone = tz.gettz(ZONES[place])
    events = {}
    for moment in utc:
        noon = noons[np.argmin(np.abs(noons - moment))]
        clock = datetime.fromtimestamp(float(noon), UTC).astimezone(zone)
        events[(clock - (clock.dst() or timedelta(0))).date()] = float(moment)
    return events


def evening(place: str) -> Plan:
    """Every day from before sunset until after nautical dusk."""
    return plan(place, start="sunset-45min", stop="nautical_dusk+30min")


def dusks(place: str) -> dict[date, tuple[float, float]]:
    """The windows of `evening` by the reference: of each day that has both events, start and stop, POSIX seconds."""
    sunset, dusk = by_sun_day(place, SET_DEG, rising=False), by_sun_day(place, -12, rising=False)
    return {day: (sunset[day] - 2700, dusk[day] + 1800) for day in sunset if day in dusk and FIRST <= day <= LAST}


@pytest.mark.parametrize("place", PLACES)
def test_windows_by_the_sun(place: str):
    tolerance_s = 10.0 if abs(PLACES[place][0]) < 60 else 60.0
    expected = dusks(place)
    ours, without = found(evening(place))
    assert set(ours) == set(expected)
    assert without == 730 - len(expected)
    for day, (start_utc, stop_utc) in expected.items():
        (window,) = ours[day]
        assert window.start_utc == pytest.approx(start_utc, abs=tolerance_s), day
        assert window.stop_utc == pytest.approx(stop_utc, abs=tolerance_s), day


@pytest.mark.parametrize("place", PLACES)
def test_two_windows_a_day_by_the_sun(place: str):
    """Where morning and evening overlap, as on the shortest days of the far north, the first of the plan is shot."""
    dawn, rise = by_sun_day(place, -18, rising=True), by_sun_day(place, SET_DEG, rising=True)
    sunset = by_sun_day(place, SET_DEG, rising=False)
    mornings = {day: (dawn[day], rise[day] + 3600) for day in dawn if day in rise and FIRST <= day <= LAST}
    evenings = {day: (sunset[day] - 2700, sunset[day] + 4500) for day in sunset if FIRST <= day <= LAST}
    starts, stops = np.array(sorted(mornings.values())).reshape(-1, 2).T
    free = {day: window for day, window in evenings.items() if not np.any((starts < window[1]) & (window[0] < stops))}
    spans = [{"start": "astronomical_dawn", "stop": "sunrise+1h"}, {"start": "sunset-45min", "duration": "2h"}]
    ours, _ = found(plan(place, windows=spans))
    tolerance_s = 10.0 if abs(PLACES[place][0]) < 60 else 60.0
    for part, expected in enumerate((mornings, free)):
        got = {day: window for day, windows in ours.items() for window in windows if window.part == part}
        assert set(got) == set(expected)
        for day, window in got.items():
            assert (window.start_utc, window.stop_utc) == pytest.approx(expected[day], abs=tolerance_s), day
    assert free
    if place == "Tromsø":
        assert len(free) < len(evenings)


@pytest.mark.parametrize("place", PLACES)
def test_two_windows_a_day_by_the_clock(place: str):
    """Both on every day, whatever the clock does; also where it leaves 02:20 out."""
    zone = tz.gettz(ZONES[place])
    morning = {"start": "02:20", "stop": "05:00"}
    ours, without = found(plan(place, windows=[{"start": "18:20", "duration": "3h"}, morning]))
    assert without == 0
    assert sorted(ours) == [FIRST + timedelta(days=n) for n in range(730)]
    for day, windows in ours.items():
        early, late = windows
        assert (early.part, late.part) == (1, 0)
        at = {hour: datetime(day.year, day.month, day.day, *hour, tzinfo=zone) for hour in ((2, 20), (5, 0), (18, 20))}
        assert late.start_utc == at[18, 20].timestamp()
        assert late.stop_utc == late.start_utc + 10_800
        assert early.stop_utc == at[5, 0].timestamp()
        if tz.datetime_exists(at[2, 20]) and not tz.datetime_ambiguous(at[2, 20]):
            assert early.start_utc == at[2, 20].timestamp()
