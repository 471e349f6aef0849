"""Percentiles of many values against numpy's, which documents the method (`linear`, Hyndman and Fan's definition 7)."""

from __future__ import annotations

import statistics

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.results.report.tally import Tally

PERCENTS = [0, 1, 25, 50, 90, 99, 99.9, 100]
VALUES = st.lists(st.integers(-(10**6), 10**6).map(lambda n: n / 1000), min_size=1, max_size=80)


def counted(values: list[float], most: int = 1000) -> Tally:
    tally = Tally(most)
    for value in values:
        tally.add(value)
    return tally


@given(VALUES)
@settings(deadline=None)
def test_of_few_values_nothing_is_lost(values: list[float]) -> None:
    tally = counted(values)
    assert tally.within == 0
    assert tally.count == len(values)
    assert tally.percentiles(PERCENTS) == pytest.approx(np.percentile(values, PERCENTS), rel=1e-9, abs=1e-9)
    assert tally.median() == pytest.approx(statistics.median(values))
    assert tally.low_median() == statistics.median_low(values)


@pytest.mark.parametrize("seed", range(3))
def test_of_very_many_they_are_off_by_no_more_than_is_told(seed: int) -> None:
    values = np.random.default_rng(seed).lognormal(0, 2, 30_000)
    tally = counted(values.tolist(), most=2000)
    assert len(tally._counts) <= 2000
    assert 0 < tally.within < 0.02
    assert tally.count == len(values)
    assert tally.percentiles(PERCENTS) == pytest.approx(np.percentile(values, PERCENTS), rel=tally.within)


@given(VALUES, VALUES, st.integers(48, 60))
@settings(deadline=None)
def test_two_that_are_put_together(one: list[float], other: list[float], most: int) -> None:
    tally = counted(one, most)
    tally.merge(counted(other, most))
    assert len(tally._counts) <= most
    assert tally.count == len(one) + len(other)
    found, both = tally.percentiles(PERCENTS), one + other
    low, high = (np.percentile(both, PERCENTS, method=method) for method in ("lower", "higher"))
    slack = tally.within * np.maximum(np.abs(low), np.abs(high)) + 1e-9
    assert (low - slack <= found).all()
    assert (found <= high + slack).all()


def test_counts_between_bounds_are_numpys() -> None:
    values = [0.1, 0.5, 0.5, 1.0, 3.0, 99.0]
    bounds = [0.5, 1.0, 4.0]
    counts, _ = np.histogram(values, [-np.inf, *bounds, np.inf])
    assert counted(values).between(bounds) == counts.tolist()


def test_what_is_no_number_is_left_out() -> None:
    assert counted([1.0, float("nan"), float("inf")]).count == 1
    assert Tally().median() is None
