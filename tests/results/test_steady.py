"""Steadying against dusks of known truth, on arrays.

Aims: at most 0.01 EV rms residual and no step above 0.03 EV; 0.0144 EV (1 %) is the threshold of sight (common
practice, no source).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from controller.results.clip.steady import LIMIT_EV, known_steps, ramp, steady, whittaker
from controller.results.clip.tone import Dither, encode, gain_for, histogram, log2_luminance
from tests.results.nights import Floats, Night, dusk, srgb, styled, to_linear

LUMA = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709


def level(pixels: np.ndarray) -> float:
    """log2 of mean linear luminance, computed here on its own."""
    return float(np.log2((to_linear(pixels.astype(float)) @ LUMA).mean()))


def slow(track: Floats, spread: float) -> Floats:
    """What a Gaussian of this many frames lets pass."""
    reach = int(4 * spread)
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / spread) ** 2)
    return np.convolve(np.pad(track, reach, mode="reflect", reflect_type="odd"), bell / bell.sum(), mode="valid")


def residual(track: Floats) -> tuple[float, float]:
    """rms of what is faster than the eye takes for a change of light, and its largest step."""
    fast = track - slow(track, 4)
    return float(np.sqrt(np.mean(fast**2))), float(np.abs(np.diff(fast)).max())


def steadied(night: Night) -> tuple[Floats, Floats]:
    """Brightness of the pictures before and after, measured on the pictures."""
    pictures = [night.picture(number, (160, 108)) for number in range(night.scene_ev.size)]
    shares = [histogram(picture) for picture in pictures]
    track = steady(np.array([log2_luminance(each) for each in shares]), night.exposure_ev)
    dither = Dither(160, 108)
    gains = [gain_for(each, gain) for each, gain in zip(shares, track.gain, strict=True)]
    after = [
        dither.apply(Image.fromarray(picture), gain, n)
        for n, (picture, gain) in enumerate(zip(pictures, gains, strict=True))
    ]
    return np.array([level(each) for each in pictures]), np.array([level(each) for each in after])


def moving_average(night: Night) -> Floats:
    """The plain way, for comparison: 8-bit means brought to their moving average over 15 frames."""
    pictures = [night.picture(number, (160, 108)).astype(float) for number in range(night.scene_ev.size)]
    means = np.array([picture.mean() for picture in pictures])
    wanted = np.convolve(np.pad(means, 7, mode="edge"), np.ones(15) / 15, mode="valid")
    after = [np.clip(picture * f, 0, 255).round() for picture, f in zip(pictures, wanted / means, strict=True)]
    return np.array([level(each) for each in after])


NIGHTS = {
    "third-stop staircase, sRGB": dusk(),
    "third-stop staircase, picture style": dusk(curve=styled),
    "3 % aperture flicker": dusk(flicker=0.03, curve=styled),
    "clouds": dusk(flicker=0.01, clouds=0.3, curve=styled),
}


@pytest.mark.parametrize("name", NIGHTS)
def test_steps_and_flicker_go_and_the_dusk_stays(name: str) -> None:
    night = NIGHTS[name]
    before, after = steadied(night)
    rms, step = residual(after)
    was_rms, was_step = residual(before)
    assert was_step > 0.2  # there was something to remove
    assert rms <= 0.01
    assert step <= 0.03
    assert rms < was_rms / 5
    kept = slow(after, 30) - slow(before, 30)  # slower than the sawtooth that must go
    assert np.abs(kept[30:-30]).max() <= 0.1
    plain_rms, plain_step = residual(moving_average(night))
    assert rms < plain_rms
    assert step < plain_step


def test_lightning_stays_while_flicker_goes() -> None:
    night = dusk(flicker=0.02, lightning=True, curve=styled)
    before, after = steadied(night)
    flashes = np.flatnonzero(night.event_ev)
    dark = np.setdiff1d(np.arange(240), flashes)
    assert residual(after[dark])[0] <= 0.01
    calm = replace(night, event_ev=np.zeros(240))
    for flash in (70, 130):  # at 70 the exposure changes too
        stood_out = before[flash] - level(calm.picture(flash, (160, 108)))
        stands_out = after[flash] - np.median(after[flash - 5 : flash])
        assert stood_out > 0.9
        assert stands_out == pytest.approx(stood_out, abs=0.1)


def test_without_known_exposures_flicker_goes_all_the_same() -> None:
    night = dusk(flicker=0.03)
    blind = Night(night.scene_ev, np.full(240, np.nan), night.flicker_ev, night.event_ev)
    track = steady(night.scene_ev - night.exposure_ev + night.flicker_ev, blind.exposure_ev)
    assert residual(track.wanted)[0] <= 0.01


def test_a_steady_clip_is_left_alone() -> None:
    assert np.abs(steady(np.full(50, -3.0), np.full(50, 8.0)).gain).max() < 1e-9
    line = np.linspace(-2, -5, 50)
    assert np.abs(steady(line, np.full(50, 8.0)).gain).max() < 1e-6


def test_gains_are_bounded() -> None:
    jumps = np.where(np.arange(60) % 30 < 15, 0.0, -6.0)
    assert np.abs(steady(-jumps, jumps).gain).max() <= LIMIT_EV


@pytest.mark.parametrize("count", [0, 1, 2, 3, 4, 5])
def test_few_frames(count: int) -> None:
    track = steady(np.linspace(-3, -2, count), np.zeros(count))
    assert track.gain.shape == (count,)
    assert np.all(np.isfinite(track.gain))


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_whittaker_is_the_least_squares_solution(data: st.DataObject) -> None:
    """Against numpy's dense solver on the normal equations of Eilers (2003), equation 5."""
    size = data.draw(st.integers(3, 40))
    values = np.array(data.draw(st.lists(st.floats(-10, 10), min_size=size, max_size=size)))
    weights = np.array(data.draw(st.lists(st.floats(0.01, 1), min_size=size, max_size=size)))
    strength = data.draw(st.floats(0.01, 1e4))
    second = np.diff(np.eye(size), n=2, axis=0)
    dense = np.linalg.solve(np.diag(weights) + strength * second.T @ second, weights * values)
    assert whittaker(values, weights, strength) == pytest.approx(dense, abs=1e-5)


@given(st.lists(st.tuples(st.integers(1, 200), st.sampled_from([-1 / 3, 1 / 3])), min_size=3, max_size=12))
@settings(deadline=None)
def test_a_ramp_has_no_steps(treads: list[tuple[int, float]]) -> None:
    stairs = np.cumsum(np.concatenate([[step] + [0.0] * (length - 1) for length, step in treads]))
    made = ramp(stairs)
    if len(stairs) > 20:
        assert np.abs(np.diff(made, n=2)).max() <= 0.01
    assert np.abs(made - stairs).max() <= 0.7


def test_one_frame_of_another_exposure_is_brought_to_the_others() -> None:
    """As when the body's own settings are still in force at the first release."""
    for at in (0, 40, 79):
        stairs = np.zeros(80)
        stairs[at] = 1.67
        assert np.abs(ramp(stairs)).max() < 0.05
        gain = steady(-4 - stairs, 10 + stairs).gain
        assert gain[at] == pytest.approx(1.67, abs=0.05)
        assert np.abs(np.delete(gain, at)).max() < 0.05


def test_the_tone_curve_s_answer_is_found() -> None:
    """A curve that turns 1 EV into 1.3 EV: known steps are scaled by it, and one flash at a step does not matter."""
    exposure = -np.floor(np.arange(200) / 15) / 3
    measured = 1.3 * (-np.arange(200) / 45 - exposure)
    measured[60] += 1.0
    stairs = known_steps(measured, exposure)
    assert stairs == pytest.approx(1.3 * exposure, abs=0.02 * np.abs(exposure).max() + 1e-9)


def test_a_large_step_is_answered_as_it_was_measured() -> None:
    """The body's own settings at the first release, 1.67 EV off, where the tone curve has a shoulder."""
    exposure = np.concatenate([[10.33], 12.0 - np.floor(np.arange(80) / 15) / 3])
    measured = 1.3 * (-np.arange(81) / 45 - exposure)
    measured[0] = measured[1] + 1.1
    gain = steady(measured, exposure).gain
    assert measured[0] + gain[0] == pytest.approx(measured[1] + gain[1], abs=0.1)


def test_steps_that_darkness_swallowed_are_not_made_up() -> None:
    exposure = -np.floor(np.arange(200) / 15) / 3
    assert known_steps(np.full(200, -9.0), exposure) == pytest.approx(np.zeros(200))


def test_srgb_is_the_standard_s() -> None:
    linear = np.linspace(0, 1, 1001)
    assert encode(linear) == pytest.approx(srgb(linear), abs=1e-9)
    assert encode(np.array([0.18])).round() == 118  # mid grey's code (IEC 61966-2-1: 18 % is 117.6)


@given(st.floats(-1, 1), st.integers(0, 10_000))
@settings(max_examples=30, deadline=None)
def test_a_gain_gives_the_change_that_was_asked_for(change_ev: float, seed: int) -> None:
    pixels = np.random.default_rng(seed).normal(90, 25, (60, 90, 3)).clip(0, 255).astype(np.uint8)
    gain = gain_for(histogram(pixels), change_ev)
    after = Dither(90, 60).apply(Image.fromarray(pixels), gain, seed)
    assert level(after) - level(pixels) == pytest.approx(change_ev, abs=0.005)


def test_white_cannot_get_lighter() -> None:
    white = np.full((20, 20, 3), 255, np.uint8)
    assert np.array_equal(Dither(20, 20).apply(Image.fromarray(white), gain_for(histogram(white), 0.5), 0), white)


def test_dither_keeps_what_lies_between_codes() -> None:
    """A flat dark picture, 0.03 EV lighter, lies between two codes; rounding would be off by up to 0.05 EV."""
    flat = np.full((200, 200, 3), 20, np.uint8)
    after = Dither(200, 200).apply(Image.fromarray(flat), 2**0.03, 3)
    assert set(np.unique(after)) == {20, 21}
    assert to_linear(after.astype(float)).mean() / to_linear(np.array(20.0)) == pytest.approx(2**0.03, rel=0.003)
