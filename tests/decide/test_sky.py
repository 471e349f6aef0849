"""The sky model against published illuminances."""

from __future__ import annotations

import math

import pytest

from controller.decide import sky
from controller.decide.moon import Moon

DARK = Moon(-40.0, 90.0)


@pytest.mark.parametrize(
    ("altitude", "lux"),
    [
        (60, 103_100),
        (30, 46_300),
        (10, 11_120),
        (5, 4_499),
        (0, 758.6),
        (-0.8333, 453.5),
        (-3, 79.07),
        (-6, 3.412),
        (-9, 0.1164),
        (-12, 0.008137),
        (-15, 0.002023),
        (-18, 0.0006447),
    ],
)
def test_clear_sky_by_the_explanatory_supplement(altitude, lux):
    """Seidelmann 1992, section 9.3: the polynomials evaluated independently."""
    assert sky.sun_lx(altitude) == pytest.approx(lux, rel=0.012)


@pytest.mark.parametrize(
    ("altitude", "lux", "within_ev"),
    [(60, 103_000, 0.2), (30, 51_320, 0.2), (10, 11_230, 0.2), (0, 984.5, 0.55), (-6, 2.992, 0.3), (-9, 0.1159, 0.3)],
)
def test_a_second_source_agrees(altitude, lux, within_ev):
    """Janiczek & DeYoung, USNO Circular 171 (1987)."""
    assert abs(math.log2(sky.sun_lx(altitude) / lux)) <= within_ev


@pytest.mark.parametrize(("altitude", "lux"), [(10, 0.0236), (30, 0.0977), (60, 0.216), (90, 0.269)])
def test_full_moon(altitude, lux):
    """Explanatory Supplement, mean parallax, evaluated independently."""
    assert sky.moon_lx(Moon(altitude, 180.0)) == pytest.approx(lux, rel=0.01)


@pytest.mark.parametrize(("elongation", "factor"), [(150, 0.5468), (120, 0.2823), (90, 0.1187), (60, 0.03178)])
def test_phases_of_the_moon(elongation, factor):
    assert sky.moon_lx(Moon(40.0, elongation)) / sky.moon_lx(Moon(40.0, 180.0)) == pytest.approx(factor, rel=0.005)


@pytest.mark.parametrize(
    ("altitude", "ev"), [(60, 15.33), (30, 14.18), (10, 12.12), (0, 8.25), (-6, 0.45), (-9, -4.42)]
)
def test_scene_ev_by_iso_2720(altitude, ev):
    """EV at ISO 100 of incident light, C = 250 (ISO 2720)."""
    assert sky.scene_ev(altitude, sky.night_lx(DARK, 0.0001)) == pytest.approx(ev, abs=0.02)


def test_no_step_where_one_formula_takes_over_from_the_next():
    for table, light in ((sky._SUN, sky.sun_lx), (sky._MOON, lambda h: sky.moon_lx(Moon(h, 170.0)))):
        for edge, _ in table:
            step = math.log2(light(edge + 1e-6) / light(edge - 1e-6))
            assert abs(step) < 0.03, (edge, step)


def test_nights_do_not_follow_the_polynomial_into_the_deep():
    assert sky.sun_lx(-40) == sky.sun_lx(-18)
    night = sky.scene_ev(-40, sky.night_lx(DARK, 0.0008))
    assert night == pytest.approx(math.log2(0.0008 / 2.5), abs=0.01)
    town = sky.scene_ev(-40, sky.night_lx(DARK, 0.15))
    assert town == pytest.approx(math.log2(0.15 / 2.5), abs=0.01)


def test_the_fastest_clear_dusk_darkens_as_fast_as_observed():
    """0.342 EV a minute at latitude 28.8°, 10 to 35 minutes after sunset (ING twilight page: log B = A − 0.103 T)."""
    import numpy as np

    from controller.decide.sun import altitudes, events

    start = 1_774_000_000.0  # March 2026
    sunset = next(e.utc for e in events(28.8, -17.9, start, start + 86400) if e.name == "sunset")
    first, last = altitudes(28.8, -17.9, np.array([sunset + 600, sunset + 2100]))
    rate = (sky.scene_ev(float(first), 0.0) - sky.scene_ev(float(last), 0.0)) / 25
    assert rate == pytest.approx(0.342, abs=0.03)


@pytest.mark.parametrize("altitude", [-1.0, -1.5, -3.0, -6.0])
def test_a_moon_that_has_yet_to_rise_fades_as_the_sun_s_twilight_does(altitude):
    """From −0.8° down, where its published series ends."""
    faded = sky.moon_lx(Moon(altitude, 170.0)) / sky.moon_lx(Moon(-0.8, 170.0))
    assert faded == pytest.approx(sky.sun_lx(altitude) / sky.sun_lx(-0.8), rel=1e-6)
