"""How far light swings, held against the rule of docs/follow.md: "What swings, and what goes somewhere"."""

from __future__ import annotations

import math

import numpy as np
import pytest

from controller.decide import follow

LEVEL_S, MEAN_S, STILL_S = 110.0, 900.0, 120.0


def walk(times: np.ndarray, readings: np.ndarray) -> tuple[list[follow.Light], np.ndarray]:
    """What is known after each reading of a scene that is so far off its sky, and how far each was off the foreseen."""
    light, lights, surprises = follow.Light(), [], []
    for at, reading in zip(times, readings, strict=True):
        surprises.append(reading - light.offset_at(at))
        light = follow.measured(light, at, 5.0, 5.0 + reading, 0.0, 0.0)
        lights.append(light)
    return lights, np.array(surprises)


def averaged(times: np.ndarray, values: np.ndarray, over_s: float) -> np.ndarray:
    """The exponential average at each moment, written as its sum: a value counts for the time since the one before."""
    shares = 1 - np.exp(-np.diff(times) / over_s)
    fades = np.exp(-(times[:, None] - times[None, 1:]) / over_s) * (times[:, None] >= times[None, 1:])
    return fades @ (shares * values[1:]) + np.exp(-(times - times[0]) / over_s) * values[0]


def squares(swing: follow.Swing) -> list[float]:
    return [swing.over_ev2, swing.under_ev2, swing.bright_ev2, swing.dark_ev2]


def halves(values: np.ndarray) -> list[np.ndarray]:
    return [np.where(values > 0, values, 0.0) ** 2, np.where(values < 0, values, 0.0) ** 2]


def scene(count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Moments, readings at uneven distances (more upwards than downwards), and how far they are off level and slope."""
    chance = np.random.default_rng(5)
    times = 1e6 + np.cumsum(chance.uniform(2.0, 40.0, count))
    readings = 0.7 + 0.08 * chance.standard_normal(count) + 0.1 * np.maximum(0.0, np.sin(times / 70))
    level = averaged(times, readings, LEVEL_S)
    return times, readings, level, readings - 2 * level + averaged(times, level, LEVEL_S)


def test_mean_squares_are_over_a_quarter_of_an_hour():
    times, readings, level, off = scene(900)
    lights, surprises = walk(times, readings)
    assert lights[-1].swing.near_ev == pytest.approx(level[-1])
    expected = [averaged(times, half, MEAN_S)[-1] for half in (*halves(off), *halves(surprises))]
    assert squares(lights[-1].swing) == pytest.approx(expected, rel=1e-3)
    offsets = np.array([light.offset_ev for light in lights])
    assert lights[-1].slow_ev == pytest.approx(averaged(times, offsets, MEAN_S)[-1], abs=1e-4)


def test_in_the_first_minutes_all_count_alike_with_two_minutes_of_stillness():
    times, readings, _, off = scene(25)
    lights, surprises = walk(times, readings)
    assert times[-1] - times[0] < MEAN_S - STILL_S
    since = np.diff(times)
    for last in (1, 2, 10, 24):
        known_s = times[last] - times[0]
        expected = [
            (since * half[1:])[:last].sum() / (known_s + STILL_S) for half in (*halves(off), *halves(surprises))
        ]
        assert squares(lights[last].swing) == pytest.approx(expected)


@pytest.mark.parametrize("period_s", [120.0, 240.0, 480.0, 900.0])
def test_of_a_swing_so_much_is_told_as_two_lags_let_through(period_s: float):
    """By the frequency response of a lag of the first order, 1/(1 + iωT) (any text on linear systems; from memory):
    z − 2a + b of a sine is (ωT)²/(1 + (ωT)²) of it, and half of its mean square lies to each side."""
    times = np.arange(0.0, 14_400.0, 2.0)
    swing_ev = 0.15
    lights, _ = walk(times, swing_ev * np.sin(2 * math.pi * times / period_s))
    turned = (2 * math.pi * LEVEL_S / period_s) ** 2
    expected = (swing_ev * turned / (1 + turned)) ** 2 / 4
    last = lights[-int(period_s / 2) :]  # over one period
    assert np.mean([light.swing.over_ev2 for light in last]) == pytest.approx(expected, rel=0.05)
    assert np.mean([light.swing.under_ev2 for light in last]) == pytest.approx(expected, rel=0.05)
