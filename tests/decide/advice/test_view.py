"""Field of view, and sun and moon in the picture, against DE421 by skyfield and an independent projection."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skyfield.api import wgs84

from controller.decide.advice.view import (
    MOON_RADIUS_DEG,
    SUN_RADIUS_DEG,
    Frame,
    field_of_view,
    refraction_deg,
    stays,
)
from tests.decide import utc
from tests.decide.ephemeris import opened


@pytest.mark.parametrize(
    ("focal_mm", "angles"),
    [(50, (39.6, 27.0, 46.8)), (24, (73.7, 53.1, 84.1)), (200, (10.3, 6.9, 12.3)), (14, (104.3, 81.2, 114.2))],
)
def test_fields_of_view_on_36_by_24(focal_mm, angles):
    """Angles of view as lens tables give them for 36 × 24 mm: 46.8°, 84°, 12°, 114° across the diagonal."""
    found = field_of_view((36.0, 24.0), focal_mm)
    assert (found.horizontal_deg, found.vertical_deg, found.diagonal_deg) == pytest.approx(angles, abs=0.06)


def test_refraction():
    """34′ at the horizon as seen (Meeus, chapter 16: 0° true is lifted by 29′ or so), 9.9′ at 5°, nothing overhead."""
    assert refraction_deg(-34 / 60) * 60 == pytest.approx(34, abs=1.0)
    assert refraction_deg(5.0) * 60 == pytest.approx(9.6, abs=0.3)
    assert refraction_deg(90.0) == pytest.approx(0.0, abs=1e-3)


def gnomonic(azimuth0, altitude0, altitude, azimuth):
    """Snyder, Map Projections (USGS 1395), 22-3 to 22-5: x, y in focal lengths, and cos c."""
    lat1, lat, apart = np.radians(altitude0), np.radians(altitude), np.radians(azimuth - azimuth0)
    cos_c = np.sin(lat1) * np.sin(lat) + np.cos(lat1) * np.cos(lat) * np.cos(apart)
    x = np.cos(lat) * np.sin(apart) / cos_c
    y = (np.cos(lat1) * np.sin(lat) - np.sin(lat1) * np.cos(lat) * np.cos(apart)) / cos_c
    return x, y, cos_c


@settings(max_examples=300)
@given(st.floats(0, 360), st.floats(-60, 80), st.floats(-89, 89), st.floats(0, 360), st.floats(14, 200))
def test_inside_as_a_map_projection_says(azimuth0, altitude0, altitude, azimuth, focal_mm):
    frame = Frame(azimuth0, altitude0, field_of_view((36.0, 24.0), focal_mm))
    x, y, cos_c = gnomonic(azimuth0, altitude0, altitude, azimuth)
    inside = cos_c > 0 and abs(x) * focal_mm <= 18.0 and abs(y) * focal_mm <= 12.0
    found = frame.inside_deg(altitude, azimuth)
    if abs(found) > 1e-6:
        assert (found > 0) == inside


def test_declinations_in_the_picture():
    """At the pole altitude is declination; on the equator, due north on the horizon is the pole."""
    field = field_of_view((36.0, 24.0), 50)
    lower_corner = math.degrees(math.asin((math.sin(math.radians(60)) - 0.24 * 0.5) / math.hypot(1, 0.24, 0.36)))
    assert Frame(0.0, 60.0, field).least_declination_deg(90.0) == pytest.approx(lower_corner, abs=1e-6)
    corner = 90 - field.diagonal_deg / 2
    assert Frame(0.0, 0.0, field).least_declination_deg(0.0) == pytest.approx(corner, abs=0.5)
    assert Frame(180.0, 30.0, field).least_declination_deg(57.7) == 0.0  # the equator crosses at 32.3°
    assert Frame(0.0, -80.0, field).least_declination_deg(57.7) == 0.0  # no sky at all


SITES = {
    # latitude, longitude, from (UTC), hours, azimuth, altitude, focal length
    "sunset at a quay": (57.7, 11.95, "2026-10-03T12:00", 12, 250.0, 8.0, 24.0),
    "a short lens to the west": (-33.87, 151.21, "2026-03-10T02:00", 16, 270.0, 15.0, 14.0),
    "a long lens on the moonrise": (39.74, -105.18, "2026-05-31T18:00", 24, 128.0, 6.0, 85.0),
    "midnight sun": (69.65, 18.96, "2026-06-20T18:00", 10, 0.0, 5.0, 35.0),
    "upwards": (28.3, -16.6, "2026-08-28T06:00", 24, 180.0, 60.0, 24.0),
    "low to the south": (57.7, 11.95, "2026-12-20T06:00", 40, 190.0, 20.0, 20.0),
}


def reference(body, latitude, longitude, moments, azimuth0, altitude0, focal_mm):
    """Whether any of the disc's rim or middle is in the picture and above the horizon, by skyfield and gnomonic."""
    bodies, scale = opened()
    time = scale.utc(1970, 1, 1, 0, 0, moments)
    seen = (bodies["earth"] + wgs84.latlon(latitude, longitude)).at(time).observe(bodies[body]).apparent()
    altitude, azimuth, _ = seen.altaz(temperature_C=10.0, pressure_mbar=1010.0)
    radius = SUN_RADIUS_DEG if body == "sun" else MOON_RADIUS_DEG
    there = np.zeros(len(moments), dtype=bool)
    for turn in [None, *np.arange(0, 2 * math.pi, 0.1)]:
        up, side = (0.0, 0.0) if turn is None else (radius * math.sin(turn), radius * math.cos(turn))
        rim, across = altitude.degrees + up, azimuth.degrees + side / np.cos(altitude.radians)
        x, y, cos_c = gnomonic(azimuth0, altitude0, rim, across)
        there |= (cos_c > 0) & (np.abs(x) * focal_mm <= 18) & (np.abs(y) * focal_mm <= 12) & (rim > 0)
    return there


@pytest.mark.parametrize("name", SITES)
@pytest.mark.parametrize("body", ["sun", "moon"])
def test_when_sun_and_moon_stand_in_the_picture(name, body):
    """To the minute; both ends of each stay, and no stay that the reference has not."""
    latitude, longitude, start, hours, azimuth, altitude, focal_mm = SITES[name]
    from_utc = utc(start)
    frame = Frame(azimuth, altitude, field_of_view((36.0, 24.0), focal_mm))
    found = stays(frame, body, latitude, longitude, from_utc, from_utc + hours * 3600)
    moments = from_utc + np.arange(0, hours * 3600 + 1, 15.0)
    there = reference(body, latitude, longitude, moments, azimuth, altitude, focal_mm)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], there, [False])).astype(int)))
    expected = [(moments[a], moments[min(b, len(moments) - 1)]) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    assert len(found) == len(expected)
    for stay, (enters, leaves) in zip(found, expected, strict=True):
        assert stay.enters_utc == pytest.approx(enters, abs=60)
        assert stay.leaves_utc == pytest.approx(leaves, abs=60)


def test_the_check_above_has_something_to_check():
    """Of these cases most have a stay that begins and ends inside the time that is looked at."""
    whole = 0
    for latitude, longitude, start, hours, azimuth, altitude, focal_mm in SITES.values():
        frame = Frame(azimuth, altitude, field_of_view((36.0, 24.0), focal_mm))
        end = utc(start) + hours * 3600
        for body in ("sun", "moon"):
            whole += sum(
                utc(start) < s.enters_utc and s.leaves_utc < end
                for s in stays(frame, body, latitude, longitude, utc(start), end)
            )
    assert whole >= 6
