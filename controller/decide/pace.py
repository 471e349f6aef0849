"""The interval from one release to the next.

Between two points of a pace the interval is geometric: equal steps of sun altitude or scene EV multiply it by equal
factors, so that the clip's speed changes evenly; beyond the points it is constant. `timed` runs linearly in time.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from controller.decide.anchors import parse_length
from controller.decide.plan import ByPulse, BySun, Pace, Steady, Timed
from controller.decide.schedule import Window
from controller.words.times import from_iso, iso

Points = tuple[tuple[float, float], ...]
Scene = Callable[[float], float]
"""A quantity (sun altitude, scene EV) at a moment, POSIX seconds."""


@dataclass(frozen=True, slots=True)
class PaceChange:
    """A change of interval made while shooting: from the one in force to another, linearly over a stretch of time."""

    from_s: float
    to_s: float
    start_utc: float
    over_s: float

    def document(self) -> dict[str, Any]:
        """JSON-able."""
        return {
            "from_s": self.from_s,
            "to_s": self.to_s,
            "start_utc": iso(self.start_utc),
            "over_s": self.over_s,
        }

    @classmethod
    def from_document(cls, document: dict[str, Any]) -> PaceChange:
        """The inverse of `document`."""
        return cls(
            float(document["from_s"]),
            float(document["to_s"]),
            from_iso(document["start_utc"]),
            float(document["over_s"]),
        )


def told(change: PaceChange, max_change: float) -> str:
    """A change in words, with how long it takes where `max_change` a frame does not let it be so quick."""
    text = f"interval to {change.to_s:g} s over {change.over_s:g} s"
    takes_s = abs(change.to_s - change.from_s) / max_change  # an interval of x seconds changes by max_change · x
    if takes_s <= max(change.over_s, change.from_s, change.to_s):
        return text
    takes = f"{takes_s:.0f} s" if takes_s < 100 else f"{takes_s / 60:.0f} min"
    return f"{text}, at most {100 * max_change:.2g} % a frame: there in about {takes}"


def interval_at(
    pace: Pace, change: PaceChange | None, window: Window, utc: float, sun_altitude: Scene, scene_ev: Scene
) -> float:
    """What the pace asks for at a moment, seconds, before any limit on its change."""
    if change is not None and utc >= change.start_utc:
        return _linear(change.from_s, change.to_s, utc - change.start_utc, change.over_s)
    if isinstance(pace, Steady):
        return pace.interval_s
    if isinstance(pace, ByPulse):  # the least that is known of it
        return pace.min_interval_s
    if isinstance(pace, Timed):
        return _linear(pace.from_s, pace.to_s, utc - window.start_utc, _over_s(pace, window))
    return between(pace.points, sun_altitude(utc) if isinstance(pace, BySun) else scene_ev(utc))


def next_interval(
    asked: Callable[[float], float], due_utc: float, in_force_s: float | None, max_change: float
) -> float:
    """Seconds from the release at `due_utc` to the next.

    `asked` is read in the middle of the interval, so that the number of frames is ∫dt/interval to second order.
    From one frame to the next the interval changes by `max_change` at most.
    """
    first_s = asked(due_utc)
    wanted_s = asked(due_utc + first_s / 2)
    if in_force_s is None:
        return wanted_s
    return min(max(wanted_s, in_force_s / (1 + max_change)), in_force_s * (1 + max_change))


def between(points: Points, x: float) -> float:
    """The interval of a pace's points at `x`: geometric between two points, constant beyond them."""
    xs, logs = _curve(points)
    after = bisect_left(xs, x)
    if after == 0:
        return math.exp(logs[0])
    if after == len(xs):
        return math.exp(logs[-1])
    share = (x - xs[after - 1]) / (xs[after] - xs[after - 1])
    return math.exp(logs[after - 1] + share * (logs[after] - logs[after - 1]))


@lru_cache(maxsize=64)
def _curve(points: Points) -> tuple[list[float], list[float]]:
    ascending = sorted(points)
    return [x for x, _ in ascending], [math.log(interval_s) for _, interval_s in ascending]


@lru_cache(maxsize=64)
def _over_s(pace: Timed, window: Window) -> float:
    if pace.over is not None:
        return parse_length(pace.over)
    assert window.stop_utc is not None  # the plan is refused otherwise
    return window.stop_utc - window.start_utc


def _linear(from_s: float, to_s: float, elapsed_s: float, over_s: float) -> float:
    if over_s <= 0 or elapsed_s >= over_s:
        return to_s
    return from_s + (to_s - from_s) * max(0.0, elapsed_s) / over_s
