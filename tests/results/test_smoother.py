"""The smoother against dense linear algebra by its published formulas, as its docstrings cite them."""

from __future__ import annotations

import numpy as np
import pytest

from controller.results.clip.over_gaps import Gaps, OnSlots
from controller.results.clip.smoother import bisquare, closer, deviation_around, flicker_around, strength

PERIODS = np.array([40.0, 28.0, 20.0, 14.0, 10.0, 7.0, 5.0, 4.0, 3.0])
CAUTION, BELL = 3.0, 15.0
FRAMES = 150


def smooth(values: np.ndarray, weights: np.ndarray, stiff: np.ndarray | float) -> np.ndarray:
    """Eilers (2003), equation 5, with a strength for each second difference."""
    second = np.diff(np.eye(values.size), n=2, axis=0)
    penalty = second.T @ (np.broadcast_to(stiff, values.size - 2)[:, None] * second)
    return np.linalg.solve(np.diag(weights) + penalty, weights * values)


def half_passes(period: float) -> float:
    """Of a sine the smoother passes 1/(1 + λω⁴) (Eilers 2003): half of it where λ = ω⁻⁴."""
    return (period / (2 * np.pi)) ** 4


def own_share(period: np.ndarray) -> np.ndarray:
    """Of a value the track takes so much from itself: ∫dω/(1 + λω⁴)/π where ∫dx/(1 + x⁴) is π/√8, from 0 on."""
    return half_passes(period) ** -0.25 / np.sqrt(8)


def scene(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Light with a cloud in it, flicker that grows, and weights: one frame without, as a flash has none."""
    chance, frames = np.random.default_rng(seed), np.arange(FRAMES)
    flicker = np.linspace(0.01, 0.03, FRAMES)
    values = 0.3 * np.tanh((frames - 70) / 4) + 0.004 * frames + flicker * chance.standard_normal(FRAMES)
    weights = np.where(frames == 40, 1e-6, 1.0)
    return values, weights, flicker


@pytest.mark.parametrize("seed", [1, 2])
def test_tracks_are_mixed_and_bent_as_the_papers_say(seed: int) -> None:
    values, weights, flicker = scene(seed)
    apart = np.arange(FRAMES)[:, None] - np.arange(FRAMES)
    bell = np.exp(-0.5 * (apart / BELL) ** 2) * (np.abs(apart) <= 3 * BELL)
    near = bell / bell.sum(axis=1, keepdims=True)
    tracks = [smooth(values, weights, half_passes(period)) for period in PERIODS]
    left = np.array([near @ (weights * (values - track) ** 2) / (near @ weights) for track in tracks])
    risk = left + 2 * CAUTION * flicker**2 * own_share(PERIODS)[:, None]
    around = BELL * 2 * np.sqrt(np.pi)  # (Σw)² / Σw² of Gauss' bell
    shares = np.exp(-(risk - risk.min(axis=0)) * around / (2 * flicker**2))
    first = (shares * tracks).sum(axis=0) / shares.sum(axis=0)
    bends = np.abs(np.diff(first, n=2)) / flicker[1:-1]
    least = 1 / half_passes(40.0)
    second = smooth(values, weights, 1 / (bends**2 + least))
    again = np.abs(np.diff(second, n=2)) / flicker[1:-1]
    third = smooth(values, weights, 1 / (bends * again + least))
    ours = closer(values, weights, flicker, OnSlots(Gaps.none(FRAMES)))
    assert ours == pytest.approx(third, abs=1e-6)


@pytest.mark.parametrize(("period", "within"), [(40.0, 0.005), (20.0, 0.015), (10.0, 0.05), (7.0, 0.08)])
def test_what_a_value_takes_from_itself(period: float, within: float) -> None:
    """The diagonal of the smoother's matrix in the middle of a long clip; the formula is of one without frames."""
    second = np.diff(np.eye(601), n=2, axis=0)
    own = np.linalg.inv(np.eye(601) + half_passes(period) * second.T @ second)[300, 300]
    assert own_share(np.array(period)) == pytest.approx(own, rel=within)
    assert strength(period) == pytest.approx(half_passes(period))


@pytest.mark.parametrize("frames", [1, 2, 7, 160, 161, 162, 4256, 4257, 9000])
def test_a_deviation_is_told_around_each_frame_however_long_the_clip(frames: int) -> None:
    """By the median of the 161 frames around it, at the ends of those nearest to them; 1.4826 of it is the standard
    deviation of what is normal (Rousseeuw & Croux, J. Am. Stat. Assoc. 88 (1993) 1273)."""
    off = np.abs(np.random.default_rng(frames).normal(0, 1, frames))
    width = min(161, frames - 1 + frames % 2)
    found = deviation_around(off)
    assert found.shape == off.shape
    for frame in {0, frames // 3, frames // 2, min(4095, frames - 1), min(4177, frames - 1), frames - 1}:
        first = min(max(frame - width // 2, 0), frames - width)
        assert found[frame] == pytest.approx(1.4826 * np.median(off[first : first + width]))


def test_flicker_is_told_from_second_differences() -> None:
    """Of white noise their variance is 1 + 4 + 1 times its own; of light that goes in a line there are none."""
    line = np.linspace(0.0, 30.0, 3000)
    noise = np.random.default_rng(4).normal(0, 0.05, 3000)
    found = flicker_around(line + noise)
    assert np.mean(found) == pytest.approx(0.05, rel=0.05)
    assert flicker_around(line) == pytest.approx(np.full(3000, 0.002))


def test_weights_are_tukeys() -> None:
    """(1 − (off/bound)²)², none beyond the bound (Beaton & Tukey 1974); nothing at all would leave a gap unsolved."""
    off = np.array([0.0, 0.5, -0.5, 0.9, 1.0, -7.0])
    assert bisquare(2.0 * off, 2.0) == pytest.approx([1.0, 0.5625, 0.5625, 0.0361, 1e-6, 1e-6])
