"""How long something took, over thousands of times: a histogram of fixed size that can be added to another.

Percentiles of months cannot be had from the percentiles of single nights, but counts can be added. The bins are
spaced by the logarithm, so that a percentile is off by one step at most, whether it is 2 ms or 20 s, and never too
short. The same idea is behind DDSketch (Masson, Rim, Lee: DDSketch, a fast and fully-mergeable quantile sketch with
relative-error guarantees, VLDB 2019); with times between a tenth of a millisecond and minutes fixed bins are enough.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, field
from typing import Self

STEP = 2 ** (1 / 16)
"""Upper edge of a bin over its lower edge: 4.4 %."""

LEAST, TOP = 2.0**-14, 368
"""Upper edge of the lowest bin, and number of the highest one: up to 2⁹ = 512. What lies beyond counts there."""

MOST = 1000
"""From so many on all counts are halved, so that what was is forgotten: 500 later ones weigh twice as much."""


@dataclass
class Distribution:
    """Counts by bin, and the largest value among them. The unit is the caller's."""

    counts: dict[int, int] = field(default_factory=dict)
    most: float = 0.0

    @property
    def count(self) -> int:
        return sum(self.counts.values())

    def add(self, value: float) -> None:
        """Count one value; what is below 0 counts as 0."""
        at = 0 if value <= LEAST else min(TOP, math.ceil(math.log(value / LEAST, STEP) - 1e-9))
        self.counts[at] = self.counts.get(at, 0) + 1
        self.most = max(self.most, value)

    def merge(self, other: Distribution) -> None:
        """Take in all that another has counted."""
        for at, count in other.counts.items():
            self.counts[at] = self.counts.get(at, 0) + count
        self.most = max(self.most, other.most)

    def percentile(self, percent: float) -> float:
        """The smallest value that so many percent of all do not exceed, or up to one step more. At least one is there.

        That is the inverse of the empirical distribution function, definition 1 of Hyndman and Fan: Sample quantiles in
        statistical packages, The American Statistician 50 (1996).
        """
        wanted = max(1, math.ceil(percent / 100 * self.count - 1e-9))
        for at in sorted(self.counts):
            wanted -= self.counts[at]
            if wanted <= 0:
                break
        return self.most if at == TOP else min(self.most, _edge(at))

    def thin(self) -> None:
        """Halve the counts until there are no more than MOST, the percentiles staying where they are.

        What a bin has too much for a half goes to the next one below, so that from the top down no count is off by
        more than one. The largest value is forgotten with its bin.
        """
        while self.count > MOST:
            halved, over = {}, 0
            for at in sorted(self.counts, reverse=True):
                half, over = divmod(self.counts[at] + over, 2)
                if half:
                    halved[at] = half
            if max(halved) < max(self.counts):
                self.most = _edge(max(halved))
            self.counts = halved

    def text(self) -> str:
        """For keeping: pairs of bin and count, as JSON."""
        return json.dumps(sorted(self.counts.items()), separators=(",", ":"))

    @classmethod
    def of(cls, text: str, most: float) -> Self:
        """The inverse of `text`. Raises ValueError."""
        try:
            counts = {int(at): int(count) for at, count in json.loads(text)}
        except TypeError as error:
            raise ValueError("not pairs of bin and count") from error
        if not all(0 <= at <= TOP and count > 0 for at, count in counts.items()):
            raise ValueError("bins or counts out of range")
        return cls(counts, most)


def _edge(at: int) -> float:
    return LEAST * STEP**at
