"""Which edges of an input are pulses, and which pulses come too early. Moments are seconds of one clock."""

from __future__ import annotations

import math
from dataclasses import dataclass

from controller.words.phrases import figures

_ROUNDING_S = 1e-6


@dataclass(slots=True)
class Bounce:
    """Contacts bounce when they close and when they open: an edge soon after another is no pulse."""

    bounce_s: float
    _last: float = -math.inf

    def is_pulse(self, at: float, active: bool) -> bool:
        """Whether the edge at `at` begins a pulse; edges in the other direction are told of too."""
        quiet = at - self._last >= self.bounce_s - _ROUNDING_S
        self._last = at
        return active and quiet


def too_early(at: float, before: float | None, min_interval_s: float) -> str | None:
    """Why the pulse at `at` is not shot, where that at `before` was; None where it is."""
    if before is None or at - before >= min_interval_s - _ROUNDING_S:
        return None
    after = figures(max(0.001, at - before))
    return f"the pulse came {after} s after the one before; min_interval_s is {min_interval_s:g}"
