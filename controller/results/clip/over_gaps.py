"""Frames of a clip on the slots they were taken in, so that light goes on in a gap as long as it took.

Over a gap of n slots light falls by n + 1 intervals within one frame of the film. So tracks are smoothed over slots,
those without a picture having no weight (Eilers, Anal. Chem. 75 (2003) 3631, on missing values). What the film then
still steps by at a gap is a change of the light itself, and is spread over the frames beside it.

Pure: arrays in, arrays out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]

MOST_SLOTS = 60  # that a gap may lack; what light did over a longer one nobody knows
MOST_S = 3600.0
SPREAD_EV = 0.1  # no frame leaves the light's slow truth by more for the sake of a gap
_FEW = 1000  # slots that may be filled however few the frames are
_STEP_EV = 1 / 3  # as settings go


@dataclass(frozen=True)
class Gaps:
    """Between each frame and the next, (frames − 1,): how many slots are `missing`, and whether it is `cut` there: more
    is missing than can be steadied over, or the shoot is another."""

    missing: Counts
    cut: NDArray[np.bool_]

    @classmethod
    def none(cls, frames: int) -> Gaps:
        return cls(np.zeros(max(frames - 1, 0), np.int64), np.zeros(max(frames - 1, 0), np.bool_))

    @classmethod
    def of(
        cls,
        due_utc: Sequence[float] | Floats,
        interval_s: Sequence[float] | Floats,
        shoots: Sequence[str] | None = None,
    ) -> Gaps:
        """Of the frames shown, in order, by when they were due and how long their slots are. Where a clip shows every
        tenth slot, or one a day, what is usual in it is no gap."""
        none = cls.none(len(due_utc))
        if len(due_utc) < 3:
            return none
        apart_s, slot_s = np.diff(np.array(due_utc)), np.array(interval_s)
        slots = apart_s / np.maximum(np.maximum(slot_s[:-1], slot_s[1:]), 1e-3)
        other = none.cut if shoots is None else np.array(shoots[:-1]) != np.array(shoots[1:])
        missing = np.maximum(np.rint(slots / max(float(np.quantile(slots, 0.5, method="lower")), 1e-3)) - 1, 0)
        cut = other | (missing > MOST_SLOTS) | ((missing > 0) & (apart_s > MOST_S))
        filled = np.where(cut, 0, missing).astype(np.int64)
        short_first = np.argsort(filled, kind="stable")
        beyond = short_first[np.cumsum(filled[short_first]) > max(len(due_utc), _FEW)]  # they would cost too much
        filled[beyond] = 0
        cut[beyond] = True
        return cls(filled, cut)


@dataclass(frozen=True)
class OnSlots:
    """The `place` of each frame among the slots, and of each slot whether it was `seen`."""

    gaps: Gaps
    place: Counts = field(init=False)
    seen: NDArray[np.bool_] = field(init=False)

    def __post_init__(self) -> None:
        place = np.concatenate([[0], np.cumsum(self.gaps.missing + 1)])
        seen = np.zeros(place[-1] + 1, np.bool_)
        seen[place] = True
        object.__setattr__(self, "place", place)
        object.__setattr__(self, "seen", seen)

    def line(self, values: Floats) -> Floats:
        """Values of frames on slots, in a line over each gap."""
        return np.asarray(np.interp(np.arange(self.seen.size), self.place, values))

    def stairs(self, values: Floats) -> Floats:
        """The same in steps as settings go, evenly over each gap: one step in its middle."""
        number = np.cumsum(self.seen) - 1
        after = np.minimum(number + 1, values.size - 1)
        rise = values[after] - values[number]
        steps = np.maximum(np.rint(np.abs(rise) / _STEP_EV), 1)
        share = (np.arange(self.seen.size) - self.place[number]) / np.maximum(self.place[after] - self.place[number], 1)
        return np.asarray(values[number] + rise * np.floor(share * steps + 0.5) / steps)

    def of_seen(self, measure: Callable[[Floats], Floats], values: Floats) -> Floats:
        """What `measure` makes of the frames alone, on slots; in a gap as at the frame before it."""
        return np.asarray(measure(values[self.seen])[np.cumsum(self.seen) - 1])

    def spread(self, level: Floats, smooth: Callable[[Floats], Floats]) -> Floats:
        """What makes the `level` of frames go evenly over gaps, EV per frame: of its change over each one, what the
        missing slots had of it is made a staircase, and `smooth` the ramp instead; by SPREAD_EV at most."""
        missing = self.gaps.missing
        if not missing.any():
            return np.zeros_like(level)
        jumps = np.diff(level) * missing / (missing + 1)
        stairs = np.concatenate([[0.0], np.cumsum(jumps)])
        return np.asarray(np.clip(smooth(stairs) - stairs, -SPREAD_EV, SPREAD_EV))
