"""Stars turn with the sky."""

import math
from datetime import datetime

import numpy as np
import pytest

from controller.simulated.lens import Lens
from controller.simulated.light import Place
from controller.simulated.stars import MAGNITUDE_0_LX, SIDEREAL_DEG_S, Stars, deposit, horizontal, sidereal_deg


def test_sidereal_time_and_horizontal_coordinates() -> None:
    """Meeus, Astronomical Algorithms (1998), example 13.b: Venus over the US Naval Observatory, 1987-04-10 19:21 UT."""
    utc = datetime.fromisoformat("1987-04-10T19:21:00Z").timestamp()
    ascension = (23 + 9 / 60 + 16.641 / 3600) * 15
    hour = sidereal_deg(utc, -77.065556) - ascension
    assert hour % 360 == pytest.approx(64.352133, abs=0.002)  # mean, not apparent: 3.9″ of nutation
    declination = -(6 + 43 / 60 + 11.61 / 3600)
    altitude, azimuth = horizontal(np.array(hour), np.array(declination), 38.921389)
    assert float(altitude) == pytest.approx(15.1249, abs=0.002)
    assert float(azimuth) == pytest.approx(68.0337 + 180, abs=0.002)  # Meeus counts from the south


def test_the_sky_turns_once_in_a_sidereal_day() -> None:
    assert pytest.approx(86_164.09, abs=0.05) == 360 / SIDEREAL_DEG_S
    assert sidereal_deg(1e9 + 86_164.0905, 12.0) == pytest.approx(sidereal_deg(1e9, 12.0), abs=1e-4)


@pytest.mark.parametrize(("declination", "seconds"), [(0.0, 20.0), (60.0, 30.0)])
def test_a_trail_is_as_long_as_the_formula_says(declination: float, seconds: float) -> None:
    """L = ω·t·cos δ·f/p at the middle of the picture, ω = 15.041″/s: here with f/p = focal_px."""
    latitude, lens = declination, Lens(6000, 4000, 0.0)
    place = Place(latitude, 0.0)
    stars = Stars(1)
    # A star that culminates at the zenith would lie outside; look instead at one that crosses the horizon's middle.
    hours = np.array([-90.0, -90.0 + SIDEREAL_DEG_S * seconds])
    altitude, azimuth = horizontal(hours, np.array([declination] * 2), latitude)
    level = Lens(6000, 4000, float(azimuth.mean()))
    scale = 1 / math.cos(math.radians(float(altitude.mean())))  # gnomonic stretch above the middle
    x, y, ahead = level.project(altitude, azimuth)
    assert ahead.all()
    expected = math.radians(SIDEREAL_DEG_S) * seconds * math.cos(math.radians(declination)) * lens.focal_px
    length = float(np.hypot(*np.array([np.diff(x)[0], np.diff(y)[0]])))
    assert expected * 0.98 <= length <= expected * scale**2 * 1.02
    assert stars.trails(lens, place, 1.79e9, seconds)[0].size > 0


def test_an_exposure_spreads_a_star_and_keeps_its_light() -> None:
    lens, place, stars = Lens(1620, 1080, 180.0), Place(50.0, 10.0), Stars(3)
    totals, places = [], []
    for seconds in (1.0, 30.0):
        x, y, flux = stars.trails(lens, place, 1.79e9, seconds)
        sky = np.zeros((3, lens.horizon, lens.width), np.float32)
        deposit(sky, x, y, flux, lens)
        totals.append(sky.sum(dtype=np.float64))
        places.append(np.count_nonzero(sky[1]))
        # What lands on the picture, in lux, is what came from the stars
        assert sky.sum(dtype=np.float64) / lens.focal_px**2 == pytest.approx(flux.sum(), rel=1e-4)
    assert totals[1] == pytest.approx(totals[0], rel=0.05)
    assert places[1] > 1.5 * places[0]


def test_bright_stars_are_few() -> None:
    """Star counts grow about threefold a magnitude; to magnitude 6 the eye sees some 5,000 over the whole sky."""
    flux = Stars(1).flux[1]
    magnitude = -2.5 * np.log10(flux / MAGNITUDE_0_LX)
    assert magnitude.max() <= 6
    assert 2.5 < np.count_nonzero(magnitude < 5) / np.count_nonzero(magnitude < 4) < 4
