"""The moon against an ephemeris and worked examples.

Values unless marked: skyfield 1.55 with JPL's DE421, airless, topocentric.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide import moon
from controller.words.errors import BadInput
from tests.decide import utc

SEEN = [
    (-0.18, -78.47, "2025-03-20T06:00:00", 32.6554, 121.4274, 0.7120, 244.969, "waning gibbous"),
    (-33.87, 151.21, "2025-12-05T14:00:00", 26.8384, 5.6287, 0.9924, 188.784, "waning gibbous"),
    (39.74, -105.18, "2026-01-03T06:00:00", 72.6926, 132.1803, 0.9981, 177.658, "full moon"),
    (69.65, 18.96, "2026-11-24T20:00:00", 39.8788, 130.5559, 0.9975, 182.989, "full moon"),
    (78.22, 15.65, "2026-12-24T00:00:00", 37.7848, 199.0971, 0.9988, 179.124, "full moon"),
]


@pytest.mark.parametrize(("latitude", "longitude", "when", "altitude", "azimuth", "lit", "ahead", "name"), SEEN)
def test_positions_of_the_moon(latitude, longitude, when, altitude, azimuth, lit, ahead, name):
    seen = moon.moon(latitude, longitude, utc(when))
    assert seen.altitude_deg == pytest.approx(altitude, abs=0.05)
    assert moon.moon_position_deg(latitude, longitude, utc(when)) == pytest.approx((altitude, azimuth), abs=0.05)
    assert moon.moon_altitude(latitude, longitude, utc(when)) == seen.altitude_deg
    assert moon.illuminated(utc(when)) == pytest.approx(lit, abs=0.001)
    assert (1 - math.cos(math.radians(seen.elongation_deg))) / 2 == pytest.approx(lit, abs=0.005)
    assert moon.phase_deg(utc(when)) == pytest.approx(ahead, abs=0.1)
    assert moon.phase_name(moon.phase_deg(utc(when))) == name


def test_the_worked_examples_of_the_moon():
    """Meeus, Astronomical Algorithms, 2nd ed., examples 47.a and 48.a: 1992 April 12, 0h terrestrial time."""
    when = utc("1992-04-12T00:00:00") - 69.0  # what the module takes for terrestrial time minus UTC
    x, y, z = moon._vector(when)
    distance = math.hypot(x, y, z)
    assert math.degrees(math.atan2(y, x)) == pytest.approx(134.688469, abs=0.02)
    assert math.degrees(math.asin(z / distance)) == pytest.approx(13.768367, abs=0.02)
    assert distance * 6378.14 == pytest.approx(368_409.7, rel=0.001)
    assert math.degrees(math.asin(1 / distance)) == pytest.approx(0.99199, abs=0.001)
    assert moon.illuminated(when) == pytest.approx(0.6786, abs=0.0005)


def test_instants_of_the_phases():
    found = [(e.name, e.utc) for e in moon.phases(utc("2026-01-01T00:00:00"), utc("2026-03-01T00:00:00"))]
    expected = [
        ("full moon", "2026-01-03T10:02:55"),
        ("last quarter", "2026-01-10T15:48:24"),
        ("new moon", "2026-01-18T19:51:59"),
        ("first quarter", "2026-01-26T04:47:23"),
        ("full moon", "2026-02-01T22:09:15"),
        ("last quarter", "2026-02-09T12:43:06"),
        ("new moon", "2026-02-17T12:01:09"),
        ("first quarter", "2026-02-24T12:27:37"),
    ]
    assert [name for name, _ in found] == [name for name, _ in expected]
    for (name, at), (_, text) in zip(found, expected, strict=True):
        assert at == pytest.approx(utc(text), abs=120), name
        assert moon.phase_name(moon.phase_deg(at)) == name


@given(st.floats(-90, 90), st.floats(-180, 180), st.floats(utc("1900-01-02T00:00:00"), utc("2100-12-30T00:00:00")))
def test_one_position_and_many_agree(latitude, longitude, when):
    one = moon.moon_altitude(latitude, longitude, when)
    assert moon.moon_altitudes(latitude, longitude, np.array([[when]])) == pytest.approx(np.array([[one]]), abs=1e-6)


def test_the_moon_moves_smoothly_between_the_nodes_at_which_it_is_computed():
    start = utc("2026-10-03T18:00:00")
    heights = [moon.moon_altitude(57.7, 11.95, start + 10.0 * k) for k in range(360)]
    second = np.diff(np.diff(heights))
    assert np.abs(second).max() < 0.0005


@pytest.mark.parametrize(
    ("latitude", "longitude", "when", "code"),
    [
        (math.nan, 0.0, 0.0, "bad-place"),
        (0.0, math.nan, 0.0, "bad-place"),
        (90.1, 0.0, 0.0, "bad-place"),
        (0.0, -180.1, 0.0, "bad-place"),
        (0.0, 0.0, math.nan, "bad-date"),
        (0.0, 0.0, math.inf, "bad-date"),
        (0.0, 0.0, utc("1898-12-31T00:00:00"), "bad-date"),
        (0.0, 0.0, utc("2102-01-02T00:00:00"), "bad-date"),
    ],
)
def test_places_and_dates_that_make_no_sense_are_refused(latitude, longitude, when, code):
    for ask in (
        lambda: moon.moon(latitude, longitude, when),
        lambda: moon.moon_altitudes(latitude, longitude, np.array([when])),
        lambda: moon.moon_events(latitude, longitude, when, when + 86400),
    ):
        with pytest.raises(BadInput) as refused:
            ask()
        assert refused.value.code == code
