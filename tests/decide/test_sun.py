"""The sun against an ephemeris.

Values unless marked: skyfield 1.55 with JPL's DE421, airless, topocentric.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import example as case
from hypothesis import given
from hypothesis import strategies as st

from controller.decide import horizon, sun
from controller.words.errors import BadInput


def utc(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("latitude", "longitude", "when", "altitude", "azimuth"),
    [
        (-0.18, -78.47, "2025-03-20T12:00:00", 9.6875, 89.9198),
        (-33.87, 151.21, "2025-12-21T19:30:00", 8.2597, 112.7436),
        (39.74, -105.18, "2003-10-17T19:30:30", 39.8750, 194.3370),
        (69.65, 18.96, "2026-11-20T10:40:00", 0.5890, 182.4090),
        (78.22, 15.65, "2026-06-21T22:55:00", 11.6562, 358.9892),
    ],
)
def test_positions_of_the_sun(latitude, longitude, when, altitude, azimuth):
    seen, bearing = sun.position(latitude, longitude, utc(when))
    assert seen == pytest.approx(altitude, abs=0.02)
    assert bearing == pytest.approx(azimuth, abs=0.03)
    assert sun.altitudes(latitude, longitude, np.array([utc(when)]))[0] == pytest.approx(altitude, abs=0.02)


def test_the_worked_example_of_the_solar_position_algorithm():
    """Reda & Andreas, NREL/TP-560-34302, appendix A.5: apparent zenith 50.11162°, of which 0.0113° is refraction."""
    altitude, azimuth = sun.position(39.742476, -105.1786, utc("2003-10-17T19:30:30"))
    assert altitude == pytest.approx(90 - 50.11162 - 0.0113, abs=0.02)
    assert azimuth == pytest.approx(194.34024, abs=0.02)


@case(0.0, 0.0, utc("2026-03-20T12:07:30"))  # overhead
@given(st.floats(-89, 89), st.floats(-180, 180), st.floats(utc("2020-01-01T00:00:00"), utc("2035-01-01T00:00:00")))
def test_one_position_and_many_agree(latitude, longitude, when):
    """astral for one, our own arrays for many: two ways through the same theory."""
    when = round(when)
    assert sun.altitudes(latitude, longitude, np.array([when]))[0] == pytest.approx(
        sun.position(latitude, longitude, when)[0], abs=0.02
    )


# per day from local mean midnight: three dawns, sunrise, sunset, three dusks; '-' where it does not happen
DAYS = [
    (
        -0.18,
        -78.47,
        "2026-03-20",
        "20T10:09:21 20T10:33:20 20T10:57:20 20T11:18:00 20T23:24:30 20T23:45:10 21T00:09:09 21T00:33:09",
    ),
    (
        -0.18,
        -78.47,
        "2026-06-21",
        "21T09:57:17 21T10:23:37 21T10:49:51 21T11:12:23 21T23:19:07 21T23:41:39 22T00:07:52 22T00:34:12",
    ),
    (
        -0.18,
        -78.47,
        "2026-12-21",
        "21T09:52:51 21T10:19:13 21T10:45:27 21T11:07:59 21T23:16:07 21T23:38:39 22T00:04:54 22T00:31:15",
    ),
    (
        -33.87,
        151.21,
        "2026-03-20",
        "19T18:34:27 19T19:03:54 19T19:33:01 19T19:57:57 20T08:06:56 20T08:31:50 20T09:00:53 20T09:30:16",
    ),
    (
        -33.87,
        151.21,
        "2026-06-21",
        "20T19:30:30 20T20:00:59 20T20:32:14 20T20:59:58 21T06:53:49 21T07:21:32 21T07:52:47 21T08:23:16",
    ),
    (
        -33.87,
        151.21,
        "2026-12-21",
        "20T16:56:15 20T17:35:35 20T18:11:29 20T18:40:38 21T09:05:24 21T09:34:34 21T10:10:28 21T10:49:48",
    ),
    (
        39.74,
        -105.18,
        "2026-03-20",
        "20T11:33:35 20T12:05:34 20T12:37:02 20T13:03:55 21T01:12:53 21T01:39:50 21T02:11:22 21T02:43:28",
    ),
    (
        39.74,
        -105.18,
        "2026-06-21",
        "21T09:30:37 21T10:18:49 21T11:00:16 21T11:32:57 22T02:32:14 22T03:04:56 22T03:46:22 22T04:34:34",
    ),
    (
        39.74,
        -105.18,
        "2026-12-21",
        "21T12:41:01 21T13:13:54 21T13:47:51 21T14:18:18 21T23:39:33 22T00:10:00 22T00:43:58 22T01:16:51",
    ),
    (
        69.65,
        18.96,
        "2026-03-20",
        "20T00:46:17 20T02:27:35 20T03:43:48 20T04:43:55 20T17:01:30 20T18:02:04 20T19:19:21 20T21:04:42",
    ),
    (69.65, 18.96, "2026-06-21", "- - - - - - - -"),
    (69.65, 18.96, "2026-12-21", "21T05:28:19 21T06:46:42 21T08:31:15 - - 21T12:53:08 21T14:37:41 21T15:56:04"),
    (78.22, 15.65, "2026-03-20", "- 19T23:22:44 20T03:06:04 20T04:51:46 20T17:21:53 20T19:09:30 - -"),
    (78.22, 15.65, "2026-06-21", "- - - - - - - -"),
    (78.22, 15.65, "2026-12-21", "21T06:36:59 21T09:58:07 - - - - 21T11:52:45 21T15:13:52"),
]
CROSSINGS = [name for name in sun.SUN_EVENTS if name != "noon"]


@pytest.mark.parametrize(("latitude", "longitude", "day", "times"), DAYS)
def test_events_of_a_day_none_missed_and_none_invented(latitude, longitude, day, times):
    midnight = utc(f"{day}T00:00:00") - longitude * 240
    found = sun.events(latitude, longitude, midnight, midnight + 86400)
    happens = {event.name: event.utc for event in found}
    assert [e.utc for e in found] == sorted(e.utc for e in found)
    for name, text in zip(CROSSINGS, times.split(), strict=True):
        if text == "-":
            assert name not in happens
        else:
            assert happens[name] == pytest.approx(utc(f"{day[:8]}{text}"), abs=10 if abs(latitude) < 60 else 60)


def test_the_worked_example_of_the_suns_longitude():
    """Meeus, Astronomical Algorithms, 2nd ed., example 25.b: 1992 October 13, 0h terrestrial time.

    Example 25.a, without the planets' pulls, has 199.90895° and stands 0.003° off its own better answer.
    """
    when = utc("1992-10-13T00:00:00")
    apparent = sun.longitudes(np.array([horizon.centuries(when - horizon.DELTA_T_S)]))[0] % 360
    assert apparent == pytest.approx(199.905986, abs=0.001)
    right_ascension, declination = sun.equatorial(when - horizon.DELTA_T_S)
    assert math.degrees(right_ascension) % 360 == pytest.approx(198.38083, abs=0.0005)  # 25.a, as astral works it
    assert math.degrees(declination) == pytest.approx(-7.78507, abs=0.0005)


def test_the_worked_example_of_altitude_and_azimuth():
    """Meeus, example 13.b: Venus at the U.S. Naval Observatory, 1987 April 10, 19:21 UT; azimuth from the south."""
    latitude, east = 38.921389, -77.065556
    when = utc("1987-04-10T19:21:00")
    sidereal = horizon.sidereal_deg(when)
    assert sidereal % 360 == pytest.approx(15 * (8 + 34 / 60 + 56.853 / 3600), abs=0.0005)
    hour_angle = sidereal + east - 15 * (23 + 9 / 60 + 16.641 / 3600)
    assert hour_angle % 360 == pytest.approx(64.352133, abs=0.0005)
    declination = -(6 + 43 / 60 + 11.61 / 3600)
    altitude, azimuth = horizon.seen(latitude, math.radians(hour_angle), math.radians(declination))
    assert math.degrees(altitude) == pytest.approx(15.1249, abs=0.0005)
    assert math.degrees(azimuth) - 180 == pytest.approx(68.0337, abs=0.0005)


def test_noon_of_the_solar_position_algorithm():
    """NREL/TP-560-34302 A.5: transit at 11:46:04, sunrise at 06:12:43, sunset at 17:20:19, seven hours behind UTC.

    They are those of the day by UTC, so that the sunset is the one of the evening before by the local clock.
    """
    found = sun.events(39.742476, -105.1786, utc("2003-10-17T00:00:00"), utc("2003-10-18T00:00:00"))
    happens = {event.name: event.utc for event in found}
    assert happens["noon"] == pytest.approx(utc("2003-10-17T18:46:04"), abs=5)
    assert happens["sunrise"] == pytest.approx(utc("2003-10-17T13:12:43"), abs=10)
    assert happens["sunset"] == pytest.approx(utc("2003-10-17T00:20:19"), abs=10)


@pytest.mark.parametrize(
    ("latitude", "longitude", "when", "code"),
    [
        (math.nan, 0.0, 0.0, "bad-place"),
        (0.0, math.nan, 0.0, "bad-place"),
        (-90.01, 0.0, 0.0, "bad-place"),
        (0.0, 180.1, 0.0, "bad-place"),
        (0.0, 0.0, math.nan, "bad-date"),
        (0.0, 0.0, -math.inf, "bad-date"),
        (0.0, 0.0, utc("1898-12-31T23:59:00"), "bad-date"),
        (0.0, 0.0, utc("2102-01-01T00:01:00"), "bad-date"),
    ],
)
def test_places_and_dates_that_make_no_sense_are_refused(latitude, longitude, when, code):
    for ask in (sun.position, lambda *given: sun.events(*given, when + 86400)):
        with pytest.raises(BadInput) as refused:
            ask(latitude, longitude, when)
        assert refused.value.code == code
        assert refused.value.remedy


def test_an_event_that_lasts_less_than_the_step_of_the_scan_is_found():
    """Two crossings 100 s apart between two moments of the scan: a parabola whose roots are known."""
    start = 1000.0
    top = start + 120.0 * 3 + 61.0
    curve = lambda t: 1.0 - ((t - top) / 50.0) ** 2  # noqa: E731
    found = horizon.crossings(curve, start + 120.0 * np.arange(10), (0.0, 2.0))
    assert [(c.level, c.rising) for c in found] == [(0, True), (0, False)]
    assert [c.utc for c in found] == pytest.approx([top - 50, top + 50], abs=1e-3)


@pytest.mark.parametrize("utc", [1e13, -4e9, math.nan, math.inf])
def test_moments_beyond_the_series_are_refused(utc):
    with pytest.raises(BadInput) as refusal:
        sun.altitudes(40.0, 0.0, np.array([0.0, utc]))
    assert refusal.value.code == "bad-date"


@given(st.floats(1.6e9, 2.0e9))
def test_what_is_carried_between_nodes_is_where_astral_has_the_sun(at_utc):
    """To 10⁻⁹°, as the module says."""
    right_ascension, declination = sun.equatorial(at_utc)
    level = math.cos(declination)
    worked = level * math.cos(right_ascension), level * math.sin(right_ascension), math.sin(declination)
    assert math.degrees(math.dist(sun.direction(at_utc), worked)) < 1e-9


@given(st.floats(1.6e9, 2.0e9), st.floats(-85, 85), st.floats(-180, 180))
def test_the_sun_is_seen_lower_by_its_parallax(at_utc, latitude, longitude):
    """By 8.794″ at the horizon, less above by the cosine of the altitude (Meeus, chapter 40)."""
    sight, towards = horizon.sight(latitude, longitude, at_utc), sun.direction(at_utc)
    up, _, _ = horizon.seen_along(sight, towards)
    geocentric = math.asin(max(-1.0, min(1.0, up)))
    seen, _ = sun.position_from(sight, towards)
    assert seen == pytest.approx(math.degrees(geocentric) - 8.794 / 3600 * math.cos(geocentric), abs=1e-5)


def test_the_sun_rises_at_fifty_minutes_of_arc_below():
    """34′ of refraction and 16′ of radius, as almanacs have it (Meeus, chapter 15)."""
    assert sun.RISE_SET_DEG == sun.EVENT_ALTITUDE_DEG["sunrise"] == pytest.approx(-(34 + 16) / 60)
