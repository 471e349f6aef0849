"""The sensor and its styles: what a metered exposure must come to, and noise as photons have it."""

import math

import numpy as np
import pytest

from controller.simulated.sensor import FULL_WELL, RAW_WHITE, Sensor, saturation_fraction
from controller.simulated.styles import CONTRAST, curves


def _uniform(luminance: float, shape: tuple[int, int] = (96, 128)) -> np.ndarray:
    return np.full((3, *shape), luminance, np.float32)


def _expose(
    luminance: float, shutter_s: float, aperture: float, iso: float, style: str = "standard"
) -> tuple[float, float]:
    """Mean and standard deviation of the light that the codes stand for, by the style's inverse on paper."""
    gain = saturation_fraction(shutter_s, aperture, iso)
    shot = Sensor(style, 1).develop(_uniform(luminance), [gain] * 3, iso, 7, False)
    f = curves(style)[1](shot.codes.astype(np.float64))
    return float(f.mean()), float(f.std())


@pytest.mark.parametrize("style", list(CONTRAST))
@pytest.mark.parametrize("ev", [15, 9, 2, -4])
def test_a_metered_uniform_scene_lands_at_12_7_percent_of_saturation(ev: int, style: str) -> None:
    """ISO 12232 (mid grey 18 %/√2 of saturation); EV100 0 is 0.125 cd/m², K = 12.5 (ISO 2720)."""
    luminance, aperture, iso = 0.125 * 2.0**ev, 4.0, 200
    shutter_s = aperture**2 / 2.0**ev * 100 / iso
    mean, _ = _expose(luminance, shutter_s, aperture, iso, style)
    assert mean == pytest.approx(0.127, rel=0.01)


@pytest.mark.parametrize("style", list(CONTRAST))
def test_mid_grey_is_code_118_and_the_curve_can_be_inverted(style: str) -> None:
    """ISO 12232 and CIPA DC-004: mid grey is sRGB code 118."""
    forward, backward = curves(style)
    assert forward(np.array([0.127]))[0] == pytest.approx(118)
    f = np.linspace(0.001, 1, 500)
    assert backward(forward(f)) == pytest.approx(f)
    assert np.all(np.diff(forward(f)) > 0)
    assert (forward(np.array([0.0]))[0], forward(np.array([1.0]))[0]) == (0, 255)


@pytest.mark.parametrize("style", list(CONTRAST))
def test_no_style_is_plain_srgb(style: str) -> None:
    """IEC 61966-2-1: 255 · (1.055 · f^(1/2.4) − 0.055), mid grey scaled to 0.18. A decoder that assumes it is wrong."""
    f = np.linspace(0.01, 0.6, 100)
    srgb = 255 * (1.055 * np.minimum(f * 0.18 / 0.127, 1) ** (1 / 2.4) - 0.055)
    difference = curves(style)[0](f) - srgb
    assert np.abs(difference).max() > 8


def test_the_curve_is_an_s_over_log_light() -> None:
    for style in CONTRAST:
        slope = np.diff(curves(style)[0](2.0 ** np.linspace(-9, 0, 200)))
        assert 20 < int(np.argmax(slope)) < 199  # steepest in the middle tones, not at an end


def test_a_stop_is_a_stop_by_each_of_the_three() -> None:
    base, _ = _expose(1.0, 0.5, 4.0, 100)
    for settings in ((1.0, 4.0, 100), (0.5, 2 * math.sqrt(2), 100), (0.5, 4.0, 200)):
        assert _expose(1.0, *settings)[0] == pytest.approx(2 * base, rel=0.01)


def test_noise_is_that_of_photons_and_grows_with_iso() -> None:
    """Poisson: σ = √N electrons. At ISO 100 and mid grey read noise adds little, rounding to codes less."""
    relative = {}
    for iso in (100, 400, 1600, 6400):
        mean, spread = _expose(1.0, 0.127 / saturation_fraction(1.0, 4.0, iso), 4.0, iso)
        relative[iso] = spread / mean
        electrons = 0.127 * FULL_WELL * 100 / iso
        assert relative[iso] == pytest.approx(1 / math.sqrt(electrons), rel=0.15)
    assert relative[100] < relative[400] < relative[1600] < relative[6400]


def test_light_beyond_saturation_clips_and_darkness_is_not_negative() -> None:
    sensor = Sensor("standard", 1)
    bright = sensor.develop(_uniform(1e6), [1.0] * 3, 100, 1, True)
    assert bright.codes.min() == 255
    assert bright.mosaic is not None
    assert int(bright.mosaic.min()) == RAW_WHITE
    dark = sensor.develop(_uniform(0.0), [1.0] * 3, 12_800, 1, True)
    assert dark.mosaic is not None
    assert 0 < dark.codes.mean() < 60
    assert np.median(dark.mosaic) < 0.02 * RAW_WHITE


def test_the_same_seed_gives_the_same_noise_and_another_one_another() -> None:
    shots = [Sensor("flat", 1).develop(_uniform(1.0), [0.1] * 3, 800, seed, False).codes for seed in (3, 3, 4)]
    assert np.array_equal(shots[0], shots[1])
    assert not np.array_equal(shots[0], shots[2])


def test_raw_values_are_linear() -> None:
    means = []
    for luminance in (0.5, 1.0, 2.0):
        shot = Sensor("vivid", 1).develop(_uniform(luminance), [0.1] * 3, 100, 5, True)
        assert shot.mosaic is not None
        means.append(shot.mosaic.mean() / RAW_WHITE)
    assert means == pytest.approx([0.05, 0.1, 0.2], rel=0.01)
