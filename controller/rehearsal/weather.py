"""What clouds let through, minute by minute: the model sky's light is a clear sky's times this."""

from __future__ import annotations

import math
import random
from bisect import bisect_right
from collections.abc import Sequence
from typing import Protocol

LOWEST = 0.001
"""The least light that is taken: ten stops below a clear sky's."""
HIGHEST = 2.0
"""The most: the edge of a cloud beside the sun adds to its light, by half at most."""

_COVER, _SWING, _DIMS = 0.68, 0.30, 0.75  # of "cloudy": how much of the sky, how far that wanders, what clouds take
_SLOWEST_S, _FASTEST_S, _WAVES = 4000.0, 300.0, 5


class Weather(Protocol):
    """A sky's clouds."""

    def transmission(self, utc: float) -> float:
        """Share of a clear sky's light at a moment, POSIX seconds: 1 is clear, never below LOWEST."""
        ...


class _Clear:
    def transmission(self, utc: float) -> float:
        return 1.0


class _Cloudy:
    """Broken cloud whose cover wanders within minutes to an hour: a sum of waves with seeded periods and phases."""

    def __init__(self, seed: int) -> None:
        draw = random.Random(seed)
        spread = math.log(_SLOWEST_S / _FASTEST_S)
        self._waves = [
            (2 * math.pi / (_FASTEST_S * math.exp(draw.random() * spread)), draw.uniform(0, 2 * math.pi))
            for _ in range(_WAVES)
        ]

    def transmission(self, utc: float) -> float:
        wander = sum(math.sin(speed * utc + start) for speed, start in self._waves) / math.sqrt(_WAVES)
        cover = min(1.0, max(0.0, _COVER + _SWING * wander))
        return float(1 - _DIMS * cover**1.5)


class _Table:
    """Straight between the rows, constant before the first and after the last."""

    def __init__(self, utc: Sequence[float], transmission: Sequence[float]) -> None:
        self._utc, self._share = list(utc), [max(LOWEST, share) for share in transmission]

    def transmission(self, utc: float) -> float:
        after = bisect_right(self._utc, utc)
        if after == 0:
            return self._share[0]
        if after == len(self._utc):
            return self._share[-1]
        before_utc, before = self._utc[after - 1], self._share[after - 1]
        return before + (self._share[after] - before) * (utc - before_utc) / (self._utc[after] - before_utc)


def clear() -> Weather:
    """No cloud at all."""
    return _Clear()


def cloudy(seed: int = 0) -> Weather:
    """Broken cloud that takes up to three quarters of the light; the same for the same seed."""
    return _Cloudy(seed)


def from_table(minutes: Sequence[float], transmissions: Sequence[float], start_utc: float) -> Weather:
    """Weather from a record: `minutes` since `start_utc`, ascending, and the share of a clear sky's light at each."""
    return _Table([start_utc + 60.0 * minute for minute in minutes], transmissions)
