"""Midway equalisation against the definition, worked out on pixels, and its properties."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from controller.results.clip.midway import REACH, SPREAD, Midway, tones, towards
from controller.results.clip.steady import Track, steady
from controller.results.clip.tone import LINEAR, Dither, gain_for, histogram, log2_luminance
from tests.results.judging import residual
from tests.results.nights import Floats, dusk, styled, to_linear

Pixels = NDArray[np.uint8]


def still(count: int) -> Track:
    """Of frames of which nothing is asked."""
    return Track(np.zeros(count), np.full(count, -3.0), np.zeros(count))


def pictures(count: int, seed: int = 1) -> list[Pixels]:
    """Of one view, each with a contrast and a colour of its own."""
    dice = np.random.default_rng(seed)
    view = dice.beta(2, 3, (50, 80, 3))
    return [
        np.round(255 * view ** dice.uniform(0.95, 1.05, 3) * dice.uniform(0.97, 1.0)).astype(np.uint8)
        for _ in range(count)
    ]


def midway_by_pixels(seen: list[Pixels], place: int) -> Floats:
    """The definition (Delon 2006, equation 3; weights of a Gaussian): each pixel gets the mean of what has its rank in
    the neighbours, in linear light; ranks by sorting."""
    out = np.empty(seen[place].shape)
    near = np.arange(max(0, place - REACH), min(len(seen), place + REACH + 1))
    weights = np.exp(-((near - place) ** 2) / (2 * SPREAD**2))
    for channel in range(3):
        lights = np.array([np.sort(to_linear(seen[n][..., channel].astype(float)), axis=None) for n in near])
        mean = weights @ lights / weights.sum()
        codes = seen[place][..., channel].ravel()
        order = np.argsort(codes, kind="stable")
        target = np.empty(codes.size)
        target[order] = mean
        by_code = np.array([target[codes == code].mean() if (codes == code).any() else 0 for code in range(256)])
        out[..., channel] = by_code[seen[place][..., channel]]  # pixels of one code stay one
    return out


@pytest.mark.parametrize("place", [0, 7, 24])
def test_it_is_the_midway_histogram(place: int) -> None:
    seen = pictures(25)
    curve = Midway(lambda n: (histogram(seen[n]), 1.0), still(25)).curve(place)
    given_light = np.stack([curve[c][seen[place][..., c]] for c in range(3)], axis=-1)
    truth = midway_by_pixels(seen, place)
    untouched = LINEAR[seen[place]]
    assert np.abs(given_light - truth).mean() < 0.0003
    assert np.abs(given_light - truth).mean() < np.abs(untouched - truth).mean() / 20


def test_all_frames_of_a_window_get_one_histogram() -> None:
    seen = pictures(12)
    midway = Midway(lambda n: (histogram(seen[n]), 1.0), still(12))
    shares = np.linspace(0.05, 0.95, 19)
    after = [np.quantile(midway.curve(n)[1][seen[n][..., 1]], shares) for n in (5, 6)]
    before = [np.quantile(LINEAR[seen[n][..., 1]], shares) for n in (5, 6)]
    assert np.abs(after[0] - after[1]).mean() < np.abs(before[0] - before[1]).mean() / 3  # a code is coarse


def test_frames_that_are_the_same_are_unchanged() -> None:
    picture = pictures(1)[0]
    midway = Midway(lambda n: (histogram(picture), 1.0), still(30))
    for place in (0, 15, 29):
        assert midway.curve(place) == pytest.approx(np.broadcast_to(LINEAR, (3, 256)), abs=1e-12)


@given(st.integers(0, 10_000), st.floats(0.5, 2), st.floats(0, 1))
@settings(max_examples=40, deadline=None)
def test_curves_are_monotone_and_in_range(seed: int, gain: float, part: float) -> None:
    dice = np.random.default_rng(seed)
    some = [dice.integers(0, dice.integers(1, 256), (9, 7, 3), dtype=np.uint8) for _ in range(2)]
    own, other = (tones(histogram(each)) for each in some)
    curve = towards(own, gain, other.light, part)
    assert curve.shape == (3, 256)
    assert np.all(np.diff(curve, axis=1) >= 0)
    assert curve.min() >= 0
    assert curve.max() <= 1
    assert (
        np.abs(np.log2(curve[:, 1:] / np.minimum(gain * LINEAR, 1)[1:])).max() <= 0.42
    )  # −0.25 EV in light: log2 0.81


def test_a_dusk_stays_a_dusk_to_its_ends() -> None:
    """Frames that fall by 0.03 EV each have one histogram, but for how light it is: nothing is to be done."""
    view = np.random.default_rng(2).beta(2, 3, (60, 90, 3))
    falls = -0.03 * np.arange(60)
    seen = [np.round(255 * np.clip((view**2.2) * 2.0**ev, 0, 1) ** (1 / 2.2)).astype(np.uint8) for ev in falls]
    level = np.array([log2_luminance(histogram(each)) for each in seen])
    midway = Midway(lambda n: (histogram(seen[n]), 1.0), Track(np.zeros(60), level, np.zeros(60)))
    for place in (0, 30, 59):
        after = midway.curve(place)[1][seen[place][..., 1]].mean()
        assert np.log2(after / LINEAR[seen[place][..., 1]].mean()) == pytest.approx(0, abs=0.01)


def test_an_event_neither_changes_nor_counts() -> None:
    seen = pictures(11)
    flash = [*seen[:5], np.full_like(seen[5], 240), *seen[6:]]
    track = Track(np.zeros(11), np.full(11, -3.0), (np.arange(11) == 5).astype(float))
    with_flash = Midway(lambda n: (histogram(flash[n]), 1.0), track)
    without = Midway(lambda n: (histogram(seen[n]), 1.0), track)
    assert with_flash.curve(5) == pytest.approx(np.broadcast_to(LINEAR, (3, 256)))
    assert with_flash.curve(4) == pytest.approx(without.curve(4))


def test_shadows_that_flicker_under_a_steady_sky() -> None:
    """A picture style whose contrast linear light does not know: the mean is steady, the hill below is not, until its
    tones are."""
    night = dusk(120, flicker=0.03, curve=styled)
    seen = [night.picture(n, (96, 64)) for n in range(120)]
    shares = [histogram(each) for each in seen]
    track = steady(np.array([log2_luminance(each) for each in shares]), night.exposure_ev)
    gains = [gain_for(each, float(gain)) for each, gain in zip(shares, track.gain, strict=True)]
    midway = Midway(lambda n: (shares[n], gains[n]), track)
    dither = Dither(96, 64)

    def hill(pixels: Pixels) -> float:
        return float(np.log2(to_linear(pixels[-10:].astype(float)).mean()))

    level = [hill(dither.apply(Image.fromarray(seen[n]), gains[n], n)) for n in range(120)]
    toned = [hill(dither.apply_curve(Image.fromarray(seen[n]), midway.curve(n), n)) for n in range(120)]
    assert residual(np.array(toned))[0] < residual(np.array(level))[0] / 1.5
    assert residual(np.array(toned))[1] < residual(np.array(level))[1]


def test_no_bands() -> None:
    """A smooth sky through a curve that stretches it by a quarter of a stop: no code between is left out."""
    sky = np.repeat(np.linspace(60, 120, 200)[None, :, None], 100, axis=0).repeat(3, axis=2)
    noisy = np.floor(sky + np.random.default_rng(0).random(sky.shape)).astype(np.uint8)
    own = tones(histogram(noisy))
    curve = towards(own, 1.0, own.light * 2**0.2)
    after = Dither(200, 100).apply_curve(Image.fromarray(noisy), curve, 1)
    used = np.unique(after[..., 1])
    assert np.array_equal(used, np.arange(used[0], used[-1] + 1))
    columns = after[..., 1].mean(axis=0)
    assert np.abs(np.diff(columns, n=2)).max() < 0.6
