"""Histograms of times against NumPy on the same raw values: its percentile with method inverted_cdf."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.words.distribution import LEAST, MOST, STEP, TOP, Distribution

PERCENTS = (50, 95, 99, 100)
TIMES = st.floats(LEAST, 500.0)


def of(values) -> Distribution:
    found = Distribution()
    for value in values:
        found.add(float(value))
    return found


def within_a_step(found: Distribution, values) -> None:
    """Never too short, and too long by less than a step."""
    for percent in PERCENTS:
        exact = float(np.percentile(values, percent, method="inverted_cdf"))
        assert exact * (1 - 1e-9) <= found.percentile(percent) <= exact * STEP * (1 + 1e-9), percent


@pytest.mark.parametrize("seed", range(5))
def test_percentiles_of_times_as_bodies_have_them(seed: int):
    """Log-normal, and a tenth of slow moments: the form is assumed, the percentiles are those of what was drawn."""
    draw = np.random.default_rng(seed)
    values = np.concatenate([draw.lognormal(-1.0, 0.3, 900), draw.lognormal(1.0, 0.5, 100)])
    found = of(values)
    within_a_step(found, values)
    assert found.count == 1000
    assert found.most == values.max()


@given(st.lists(TIMES, min_size=1, max_size=60), st.lists(TIMES, max_size=60))
def test_parts_add_up_to_the_whole(first: list[float], second: list[float]):
    merged, rest = of(first), of(second)
    merged.merge(rest)
    within_a_step(merged, first + second)
    whole = of(first + second)
    assert (merged.counts, merged.most) == (whole.counts, whole.most)
    assert Distribution.of(merged.text(), merged.most) == merged


def test_what_lies_beyond_the_bins():
    short, long = of([0.0, -1.0, LEAST / 2]), of([1.0, 4000.0])
    assert short.percentile(50) <= LEAST
    assert long.percentile(99) == long.most == 4000.0
    assert max(long.counts) == TOP


@given(st.lists(TIMES, min_size=1, max_size=40), st.integers(0, 10**6))
def test_halving_keeps_percentiles_and_size(values: list[float], seed: int):
    """Half of the counts have the percentiles of all; checked by ranks, since a rank may move by one of so many."""
    draw = np.random.default_rng(seed)
    many = draw.choice(values, MOST + 500)
    found = of(many)
    found.thin()
    assert abs(found.count - len(many) / 2) <= 1
    assert len(found.counts) <= TOP + 1
    for percent in PERCENTS[:3]:
        slack = 100 * 2 / found.count
        low, high = np.percentile(many, [percent - slack, min(100.0, percent + slack)], method="inverted_cdf")
        assert low * (1 - 1e-9) <= found.percentile(percent) <= high * STEP * (1 + 1e-9)


def test_what_was_is_forgotten():
    """A card that is four times as fast shows in the median after a night, and in p99 after some more."""
    found = of([4.0] * 1000)
    for frames in range(1, 5001):
        found.add(1.0)
        found.thin()
        if frames == 1200:
            assert found.percentile(50) < 1.1
            assert found.percentile(99) > 3.9
    assert found.percentile(99) < 1.1
    assert found.most < 1.1
    assert found.count <= MOST


@pytest.mark.parametrize(
    "text", ["", "7", "[1]", "[[1]]", "[[-1, 2]]", "[[400, 2]]", "[[3, 0]]", '{"a": 1}', "[[1, null]]"]
)
def test_damaged_text_is_told(text: str):
    with pytest.raises(ValueError, match=r".+"):
        Distribution.of(text, 1.0)


def test_the_bins_reach_from_below_a_call_to_above_a_long_exposure():
    assert LEAST < 1e-4
    assert math.isclose(LEAST * STEP**TOP, 512)
    assert math.isclose(STEP, 1.0443, abs_tol=1e-4)
