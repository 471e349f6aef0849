"""Sun and moon over the whole of 2026 at ten places, against JPL's DE421 by skyfield."""

from __future__ import annotations

import numpy as np
import pytest

from controller.decide import moon, sun
from tests.decide import ephemeris
from tests.decide.ephemeris import FROM_UTC, PLACES, TO_UTC, crossings, track


@pytest.mark.parametrize("place", PLACES)
def test_altitudes_of_the_sun(place):
    seen = track("sun", place)
    error = sun.altitudes(*PLACES[place], seen.utc) - seen.altitude
    assert np.abs(error).max() < 0.005


@pytest.mark.parametrize("place", PLACES)
def test_positions_of_the_sun_one_by_one(place):
    seen = track("sun", place)
    for k in range(0, seen.utc.size, 97):
        altitude, azimuth = sun.position(*PLACES[place], float(seen.utc[k]))
        assert altitude == pytest.approx(seen.altitude[k], abs=0.02)
        turned = (azimuth - seen.azimuth[k] + 180) % 360 - 180
        assert abs(turned) * np.cos(np.radians(altitude)) < 0.02


@pytest.mark.parametrize("place", PLACES)
def test_no_event_of_the_sun_is_missed_or_invented(place):
    seen = track("sun", place)
    found = sun.events(*PLACES[place], FROM_UTC, TO_UTC)
    for name, level in sun.EVENT_ALTITUDE_DEG.items():
        rising = name.endswith("dawn") or name == "sunrise"
        expected = crossings(seen.utc, seen.altitude - level, rising)
        ours = np.array([e.utc for e in found if e.name == name])
        assert ours.size == expected.size, name
        assert np.abs(ours - expected).max() < (10 if abs(PLACES[place][0]) < 60 else 60), name


@pytest.mark.parametrize("place", PLACES)
def test_noon_is_when_the_sun_stands_due_south_or_north(place):
    seen = track("sun", place)
    noons = np.array([e.utc for e in sun.events(*PLACES[place], FROM_UTC, TO_UTC) if e.name == "noon"])
    assert noons.size == 365
    east = np.interp(noons, seen.utc, np.sin(np.radians(seen.azimuth)) * np.cos(np.radians(seen.altitude)))
    assert np.abs(east).max() < np.radians(15 / 240)  # 15 s of the sun's turning


@pytest.mark.parametrize("place", PLACES)
def test_altitudes_of_the_moon(place):
    seen = track("moon", place)
    error = moon.moon_altitudes(*PLACES[place], seen.utc) - seen.altitude
    assert np.abs(error).max() < 0.03


@pytest.mark.parametrize("place", PLACES)
def test_azimuths_of_the_moon(place):
    seen = track("moon", place)
    for k in range(0, seen.utc.size, 97):
        altitude, azimuth = moon.moon_position_deg(*PLACES[place], float(seen.utc[k]))
        turned = (azimuth - seen.azimuth[k] + 180) % 360 - 180
        assert abs(turned) * np.cos(np.radians(altitude)) < 0.03


@pytest.mark.parametrize("place", PLACES)
def test_no_rise_or_set_of_the_moon_is_missed_or_invented(place):
    seen = track("moon", place)
    found = moon.moon_events(*PLACES[place], FROM_UTC, TO_UTC)
    for name in ("moonrise", "moonset"):
        expected = crossings(seen.utc, seen.limb(), name == "moonrise")
        ours = np.array([e.utc for e in found if e.name == name])
        assert ours.size == expected.size, name
        assert np.abs(ours - expected).max() < (30 if abs(PLACES[place][0]) < 60 else 300), name


def test_how_much_of_the_moon_is_lit():
    utc, lit = ephemeris.lit()
    ours = np.array([moon.illuminated(float(t)) for t in utc[::31]])
    assert np.abs(ours - lit[::31]).max() < 0.002
