"""Percentiles of any number of values, in memory that does not grow with them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

MOST = 16_384
"""Different values that are kept; some 1.5 MB."""

_FIRST_BITS = 20


class Tally:
    """How often each value came.

    As long as there are no more than `most` different ones nothing is lost. Beyond that all are rounded to fewer and
    fewer bits of their significand until it is so again, so that a percentile is off by `within` of itself at most.
    (One value a power of two is always kept.)
    """

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._counts: dict[float, int] = {}
        self._bits: int | None = None

    @property
    def count(self) -> int:
        return sum(self._counts.values())

    @property
    def within(self) -> float:
        """The largest relative error of a value that is kept."""
        return 0.0 if self._bits is None else 2.0**-self._bits

    def add(self, value: float, times: int = 1) -> None:
        """Count a value; one that is not finite is left out."""
        counts = self._counts
        if value not in counts:
            if not math.isfinite(value):
                return
            value = self._rounded(value)
        counts[value] = counts.get(value, 0) + times
        if len(counts) > self._most:
            self._coarsen()

    def merge(self, other: Tally) -> None:
        """Take in all that another has counted."""
        if other._bits is not None and (self._bits is None or other._bits < self._bits):
            self._bits = other._bits
            self._again()
        for value, times in other._counts.items():
            self.add(value, times)

    def percentiles(self, percents: Sequence[float]) -> list[float]:
        """By linear interpolation between ranks, as numpy and spreadsheets do it: definition 7 of Hyndman and Fan:
        Sample quantiles in statistical packages, The American Statistician 50 (1996). At least one value is there."""
        values, ends = self._sorted()
        places = [(int(ends[-1]) - 1) * percent / 100 for percent in percents]
        found = []
        for place in places:
            low, high = (values[np.searchsorted(ends, rank, side="right")] for rank in (int(place), math.ceil(place)))
            found.append(float(low + (place - int(place)) * (high - low)))
        return found

    def median(self) -> float | None:
        return self.percentiles([50])[0] if self._counts else None

    def low_median(self) -> float | None:
        """Of an even number of values the lower one in the middle, so that it is always one that was there."""
        if not self._counts:
            return None
        values, ends = self._sorted()
        return float(values[np.searchsorted(ends, (int(ends[-1]) - 1) // 2, side="right")])

    def between(self, bounds: Sequence[float]) -> list[int]:
        """How many values are below the first bound, from each bound up to below the next, and from the last one on."""
        found = [0] * (len(bounds) + 1)
        for value, times in self._counts.items():
            found[int(np.searchsorted(bounds, value, side="right"))] += times
        return found

    def _sorted(self) -> tuple[np.ndarray, np.ndarray]:
        values = np.array(sorted(self._counts))
        return values, np.cumsum([self._counts[value] for value in values.tolist()])

    def _rounded(self, value: float) -> float:
        if self._bits is None:
            return value
        part, exponent = math.frexp(value)
        return math.ldexp(round(math.ldexp(part, self._bits)), exponent - self._bits)

    def _coarsen(self) -> None:
        while len(self._counts) > self._most // 2 and self._bits != 1:
            self._bits = _FIRST_BITS if self._bits is None else self._bits - 1
            self._again()

    def _again(self) -> None:
        counts: dict[float, int] = {}
        for value, times in self._counts.items():
            value = self._rounded(value)
            counts[value] = counts.get(value, 0) + times
        self._counts = counts
