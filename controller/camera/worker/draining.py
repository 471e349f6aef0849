"""A body that answers 'busy': what it has to tell is heard, and it is asked again. Pure; times are CLOCK_MONOTONIC."""

from __future__ import annotations

import math
from collections.abc import Callable

from controller.camera.ladder import Rung, when_busy
from controller.camera.messages import Tried

LONG_S = 1.0
"""Many a body is busy for a moment after each frame; only what lasts longer is told."""

_GAP_S = 5.0  # without the answer that it is busy, after which a body counts as busy anew
_TOLD = 12  # in one session; a buffer may be full at every frame of a night


class Draining:
    """`tell` takes what is to be noted."""

    def __init__(self, tell: Callable[[Tried], None]) -> None:
        self._tell = tell
        self._began_mono = self._last_mono = -math.inf
        self._times = self._told = 0

    def busy(self, now_mono: float, exposure_s: float) -> bool:
        """The body answered 'busy' to the release of a frame; False where hearing it out helps no more."""
        if now_mono > self._last_mono + _GAP_S:
            self.over("the time of the frame was over before it took it", worked=False)
            self._began_mono = now_mono
        self._last_mono = now_mono
        self._times += 1
        if when_busy(now_mono - self._began_mono, exposure_s) is Rung.DRAIN:
            return True
        self._told = 0  # a step that leads to the next one is told at any rate
        self.over("still busy", worked=False)
        return False

    def over(self, what: str = "it takes frames again", *, worked: bool = True) -> None:
        """It took a release, or nobody asks any more."""
        took_s, times, self._times = self._last_mono - self._began_mono, self._times, 0
        began_mono, self._last_mono = self._began_mono, -math.inf
        if times and took_s >= LONG_S and self._told < _TOLD:
            self._told += 1
            self._tell(Tried(str(Rung.DRAIN), times, began_mono, took_s, took_s, worked, what))
