"""Star trails against arithmetic, the 500 rule and Michaud's formula, each by worked figures."""

from __future__ import annotations

import math

import pytest

from controller.decide.advice.trails import TURN_ARCSEC_S, npf_s, points_s, rule_500_s, trail_px


def test_the_sky_turns_by_15_041_arcseconds_a_second():
    """360° in a sidereal day of 86,164.0905 s (IERS Conventions)."""
    assert pytest.approx(15.041069, abs=2e-5) == TURN_ARCSEC_S


@pytest.mark.parametrize(
    ("focal_mm", "pixel_um", "exposure_s", "declination_deg", "px"),
    [(24, 4.3, 20, 0, 8.14), (14, 5.9, 30, 0, 5.19), (14, 5.9, 30, 60, 2.60), (50, 4.3, 10, 0, 8.48)],
)
def test_a_trail_s_length(focal_mm, pixel_um, exposure_s, declination_deg, px):
    """ω t cos δ f / p, worked by hand."""
    assert trail_px(exposure_s, focal_mm, pixel_um, declination_deg) == pytest.approx(px, abs=0.01)
    assert points_s(px, focal_mm, pixel_um, declination_deg) == pytest.approx(exposure_s, rel=0.005)


def test_south_is_as_north_and_a_pole_stands_still():
    assert trail_px(25, 20, 3.76, -30) == trail_px(25, 20, 3.76, 30) == pytest.approx(8.40, abs=0.01)
    assert trail_px(3600, 50, 4.3, 90) == pytest.approx(0, abs=1e-9)
    assert math.isinf(points_s(1.0, 50, 4.3, 90.0))
    assert math.isinf(npf_s(2.8, 50, 4.3, 90.0))


@pytest.mark.parametrize(("focal_mm", "seconds"), [(24, 20.83), (14, 35.71), (20, 25.0)])
def test_the_500_rule(focal_mm, seconds):
    """500 / f: common practice, no source."""
    assert rule_500_s(focal_mm) == pytest.approx(seconds, abs=0.01)
    assert rule_500_s(focal_mm, (36.0, 24.0)) == pytest.approx(seconds, abs=0.01)


def test_the_500_rule_goes_by_the_angle_of_view():
    """A sensor of 24 × 16 mm crops by 1.5, so that 16 mm are as 24 mm."""
    assert rule_500_s(16, (24.0, 16.0)) == pytest.approx(500 / 24, rel=1e-6)


@pytest.mark.parametrize(
    ("aperture", "pixel_um", "focal_mm", "declination_deg", "seconds"),
    [(2.8, 4.3, 24, 0, 4.52), (2.8, 5.9, 14, 0, 9.25), (1.8, 6.0, 20, 0, 5.73), (2.8, 4.3, 24, 45, 6.40)],
)
def test_the_npf_formula(aperture, pixel_um, focal_mm, declination_deg, seconds):
    """F. Michaud, Société Astronomique du Havre (2016): coefficients as published there, k = 1, worked by hand."""
    assert npf_s(aperture, focal_mm, pixel_um, declination_deg) == pytest.approx(seconds, abs=0.01)
