"""Steadying against dusks of known truth, on arrays.

Aims: at most 0.01 EV rms residual and no step above 0.03 EV; 0.0144 EV (1 %) is the threshold of sight (common
practice, no source).
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from controller.results.clip.flashes import off_lines
from controller.results.clip.over_gaps import Gaps, OnSlots
from controller.results.clip.smoother import closer, strength, whittaker
from controller.results.clip.steady import LIMIT_EV, known_steps, ramp, steady
from controller.results.clip.tone import Dither, encode, gain_for, histogram
from tests.bench.follow.light import cloud_ev
from tests.results.judging import Truth, averaged, level, levels_of, residual, slow, steadied
from tests.results.nights import INTERVAL_S, dusk, srgb, styled, to_linear

__all__ = ["residual", "slow"]  # test_clip's too

NIGHTS = {
    "third-stop staircase, sRGB": dusk(),
    "third-stop staircase, picture style": dusk(curve=styled),
    "3 % aperture flicker": dusk(flicker=0.03, curve=styled),
    "shutter jitter": dusk(jitter=0.02),
    "clouds": dusk(flicker=0.01, clouds=0.3, curve=styled),
    "clouds that move fast": dusk(flicker=0.01, broken=0.2 * np.sin(2 * np.pi * np.arange(240) / 48)),
    "lightning": dusk(flicker=0.02, lightning=True, curve=styled),
    "headlights": dusk(flicker=0.02, headlights=True),
    "all at once": dusk(flicker=0.03, jitter=0.01, clouds=0.3, lightning=True, headlights=True, curve=styled),
}


@pytest.mark.parametrize("name", NIGHTS)
def test_steps_and_flicker_go_and_the_dusk_stays(name: str) -> None:
    """Beside the two plain ways in the same run: to do nothing, and the moving average of 8-bit means."""
    night = NIGHTS[name]
    truth = Truth(night)
    nothing = truth.judge(truth.before)
    ours = truth.judge(levels_of(steadied(night, truth.taken)))
    plain = truth.judge(levels_of(averaged(truth.taken)))
    assert nothing.step > 0.1  # there was something to remove
    assert ours.rms <= 0.01
    assert ours.step <= 0.03
    assert ours.drift <= 0.1
    assert ours.event <= 0.1
    assert ours.rms < nothing.rms / 5
    assert ours.rms < plain.rms
    assert ours.step < plain.step
    if night.event_ev.any():
        assert plain.event > 3 * ours.event


@pytest.mark.parametrize("seed", [1, 4])
@pytest.mark.parametrize("frames", [285, 295, 300])
def test_slow_clouds_are_kept_to_both_ends(frames: int, seed: int) -> None:
    """Wherever the last step falls; on tracks alone, with a tone curve that turns 1 EV into 1.3 EV."""
    night = dusk(frames, flicker=0.03, clouds=0.3, seed=seed)
    track = steady(1.3 * (night.scene_ev - night.exposure_ev + night.flicker_ev), night.exposure_ev)
    assert np.abs(slow(track.wanted - 1.3 * night.wanted, 15)).max() <= 0.085


@pytest.mark.parametrize(("day", "hour"), [(11, 10.0), (11, 15.5), (12, 10.5), (12, 12.5), (14, 11.0)])
def test_measured_clouds_are_followed(day: int, hour: float) -> None:
    """One-minute irradiance of broken skies (NREL Golden, March 2019) at its full strength, the worst half hours among
    them, where the light itself moves by up to 0.12 EV a frame; on tracks alone."""
    night = dusk(300, flicker=0.01, broken=cloud_ev(day, hour, INTERVAL_S * np.arange(300)))
    track = steady(night.scene_ev - night.exposure_ev + night.flicker_ev, night.exposure_ev)
    off = track.wanted - night.wanted
    rms, step = residual(off)
    assert rms <= 0.005
    assert step <= 0.03
    assert np.abs(slow(off, 15)).max() <= 0.1


@pytest.mark.parametrize("flicker", [0.002, 0.014, 0.043])
def test_clouds_are_followed_closer_than_by_any_one_period(flicker: float) -> None:
    """Of the smoother, chosen by who knows the truth; 0.043 EV are flicker of 3 %."""
    light = cloud_ev(11, 15.5, INTERVAL_S * np.arange(300))
    values = light + np.random.default_rng(1).normal(0, flicker, 300)
    even = np.ones(300)
    periods = [3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 14.0, 20.0, 40.0]
    best = min(residual(whittaker(values, even, strength(period)) - light)[0] for period in periods)
    ours = closer(values, even, np.full(300, flicker), OnSlots(Gaps.none(300)))
    assert residual(ours - light)[0] < 0.95 * best


def test_pure_flicker_is_not_followed() -> None:
    """Of flicker that is nothing else, hardly more passes than by the slow track alone."""
    values = np.random.default_rng(2).normal(0, 0.04, 1000)
    ours = closer(values, np.ones(1000), np.full(1000, 0.04), OnSlots(Gaps.none(1000)))
    assert ours.std() < 1.1 * whittaker(values, np.ones(1000), strength(40.0)).std()


def test_the_peak_of_a_cloud_is_no_flash() -> None:
    """By arithmetic: light that turns by 0.16 EV a frame every twelve frames."""
    light = 0.08 * np.abs(np.arange(240) % 24 - 12.0)
    assert off_lines(light).max() == pytest.approx(0, abs=1e-9)
    track = steady(light, np.full(240, 9.0))
    assert track.stays.max() == 0
    assert residual(track.gain)[1] <= 0.01


@pytest.mark.parametrize("length", range(1, 8))
@pytest.mark.parametrize("flash_ev", [0.6, -0.6])
def test_a_flash_stands_out_of_light_that_moves(length: int, flash_ev: float) -> None:
    light = 0.08 * np.abs(np.arange(240) % 48 - 24.0)
    lit = (np.arange(240) >= 105) & (np.arange(240) < 105 + length)
    seen = off_lines(light + np.where(lit, flash_ev, 0.0))
    assert seen[lit] == pytest.approx(0.6, abs=1e-6)
    stays = steady(light + np.where(lit, flash_ev, 0.0), np.full(240, 9.0)).stays
    assert stays[lit] == pytest.approx(1)
    assert stays[~lit].max() < 0.1


@pytest.mark.parametrize("flash_ev", [0.4, -0.4])
def test_a_small_flash_near_where_light_turns_stays_as_it_is(flash_ev: float) -> None:
    """Wherever it begins, and of up to seven frames: 133 of them, of which one may be taken for the light itself."""
    frames, off = np.arange(240), []
    light = 0.03 * np.abs(frames % 96 - 48.0)
    for length in range(1, 8):
        for begins in range(97, 116):
            scene = light + np.where((frames >= begins) & (frames < begins + length), flash_ev, 0.0)
            off.append(np.abs(steady(scene, np.full(240, 9.0)).gain).max())
    assert sum(ev > 0.06 for ev in off) <= 1


def test_without_known_exposures_flicker_goes_all_the_same() -> None:
    night = dusk(flicker=0.03)
    track = steady(night.scene_ev - night.exposure_ev + night.flicker_ev, np.full(240, np.nan))
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
    stiff = np.array(data.draw(st.lists(st.floats(0.01, 1e4), min_size=size - 2, max_size=size - 2)))
    second = np.diff(np.eye(size), n=2, axis=0)
    for each in (stiff, np.full(size - 2, stiff[0])):
        dense = np.linalg.solve(np.diag(weights) + second.T @ np.diag(each) @ second, weights * values)
        assert whittaker(values, weights, each) == pytest.approx(dense, abs=1e-5)
    assert np.array_equal(whittaker(values, weights, float(stiff[0])), whittaker(values, weights, each))


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


@pytest.mark.parametrize("every", [2, 3, 4, 8])
def test_the_answer_is_told_by_frames_between_steps_however_quick_these_come(every: int) -> None:
    """A curve that turns 1 EV into 1.3 EV; the light falls meanwhile, which is no answer to any step."""
    exposure = -np.floor(np.arange(120) / every) / 3
    measured = 1.3 * (-np.arange(120) / 30 - exposure)
    assert known_steps(measured, exposure) == pytest.approx(1.3 * exposure, abs=1e-9)


def test_three_frames_are_steadied_as_many_are() -> None:
    """The middle one was exposed by one EV less: all come out alike (arithmetic)."""
    track = steady(np.array([-4.0, -5.0, -4.0]), np.array([10.0, 11.0, 10.0]))
    assert np.ptp(track.wanted) < 0.01


@pytest.mark.parametrize("off_ev", [1.12, 1.3, 1.67, 2.5])
def test_a_frame_that_is_a_stop_off_does_not_pull_the_ramp(off_ev: float) -> None:
    stairs = np.zeros(80)
    stairs[40] = off_ev
    assert np.abs(ramp(stairs)).max() < 0.001
