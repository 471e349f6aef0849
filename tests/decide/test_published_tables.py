"""The sky model and the arithmetic of light against published tables that no other test holds them to."""

from __future__ import annotations

import math

import pytest

from controller.decide import sky
from controller.decide.meter import SRGB
from controller.decide.moon import Moon
from controller.decide.sun import position
from tests.decide import utc

DARK = Moon(-40.0, 90.0)
UNIFORM_SKY_EV = math.log2(20 / math.pi)  # reflected above incident, ISO 2720 with K = 12.5 and C = 250


@pytest.mark.parametrize(
    ("altitude", "ev"),
    [(5, 10.81), (-0.8333, 7.50), (-3, 4.98), (-12, -8.26), (-15, -10.27), (-18, -11.92)],
)
def test_ev_of_incident_light(altitude, ev):
    """Explanatory Supplement (Seidelmann 1992, section 9.3), in EV at ISO 100 by ISO 2720, C = 250."""
    assert sky.scene_ev(altitude, 0.0) == pytest.approx(ev, abs=0.02)
    assert math.log2(sky.sun_lx(altitude) * 100 / 250) == pytest.approx(ev, abs=0.02)


@pytest.mark.parametrize(
    ("altitude", "lux", "within_ev"), [(5, 4252, 0.2), (-0.8333, 661.6, 0.6), (-3, 66.4, 0.3), (90, 123_786, 0.25)]
)
def test_a_second_source(altitude, lux, within_ev):
    """Janiczek & DeYoung, USNO Circular 171 (1987), table and the certification value for a sun in the zenith."""
    assert abs(math.log2(sky.sun_lx(altitude) / lux)) <= within_ev


def test_the_certification_run_at_noon_with_our_own_sun():
    """USNO Circular 171: 1986 December 18, 21:00 UT at 23.4° S, 135.8° W has 123,786 lx, the sun in the zenith."""
    altitude, _ = position(-23.4, -135.8, utc("1986-12-18T21:00:00"))
    assert altitude > 89.5
    assert abs(math.log2(sky.sun_lx(altitude) / 123_786)) <= 0.25


def test_a_thin_moon():
    """Explanatory Supplement: 10^(−8.68e−3 f − 2.2e−9 f⁴) with f = 180° − elongation; 30° has 0.003839."""
    assert sky.moon_lx(Moon(40.0, 30)) / sky.moon_lx(Moon(40.0, 180.0)) == pytest.approx(0.003839, rel=0.005)


@pytest.mark.parametrize(("altitude", "cd_m2"), [(-6, 0.516), (-9, 0.0171), (-12, 0.00146), (-15, 0.00032)])
def test_twilight_falls_as_far_as_the_zenith_was_seen_to(altitude, cd_m2):
    """Patat, Ugolnikov & Postylyakov, A&A 455 (2006) 385, table 1, V: luminance of the zenith, 1.98 cd/m² at −5°.

    The model is of horizontal illuminance, and the zenith darkens faster than the sky near the sun: within half an EV.
    """
    assert math.log2(sky.sun_lx(-5) / sky.sun_lx(altitude)) == pytest.approx(math.log2(1.98 / cd_m2), abs=0.5)


@pytest.mark.parametrize(
    ("light", "ev", "within"),
    [
        (sky.scene_ev(60, 0.0), (15, 15), 1),  # typical full sun
        (sky.scene_ev(0.5, 0.0) + UNIFORM_SKY_EV, (12, 12), 1),  # at sunset, a camera that looks at the sky
        (sky.scene_ev(-2, 0.0) + UNIFORM_SKY_EV, (9, 11), 1),  # just after sunset
        (sky.scene_ev(-40, sky.moon_lx(Moon(50, 180))), (-3, -2), 1),  # landscape under a full moon above 40°
        (sky.scene_ev(-40, sky.moon_lx(Moon(50, 90))), (-6, -6), 1),  # under a quarter moon
    ],
)
def test_exposure_guides(light, ev, within):
    """ANSI PH2.7-1973 and -1986, exposure guides, EV at ISO 100; which altitude is "just after sunset" is ours."""
    assert ev[0] - within <= light <= ev[1] + within


def test_starlight_and_airglow():
    """USNO Circular 171 adds 0.0005 lx for them, within a factor of 3."""
    assert 0.0005 / 3 <= sky.sun_lx(-30) <= 0.0005 * 3


def test_mid_grey_and_white():
    """ISO 12232 and CIPA DC-004: 18 % reflectance is code 118, 2.46 EV below white; 12.7 % of saturation is 18 %/√2."""
    assert round(255 * (1.055 * 0.18 ** (1 / 2.4) - 0.055)) == 118
    assert -math.log2(float(SRGB.linear[118])) == pytest.approx(2.46, abs=0.01)
    assert 0.18 / math.sqrt(2) == pytest.approx(0.127, abs=0.0005)
