"""How much a sequence of brightnesses flickers."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from controller.words.documents import Document


class Flicker(Document):
    """In EV, that is, in log2 of the mean luminance. A step of 0.0144 EV (1 %) is the threshold of sight."""

    frames: int
    first_rms_ev: float
    second_rms_ev: float
    largest_step_ev: float


class Running:
    """The same, one brightness after the other."""

    def __init__(self) -> None:
        self._frames = self._firsts = self._seconds = 0
        self._first_sum = self._second_sum = self._largest = 0.0
        self._last: float | None = None
        self._step: float | None = None

    def add(self, log2_luminance: float) -> None:
        self._frames += 1
        if self._last is not None:
            step = log2_luminance - self._last
            self._firsts += 1
            self._first_sum += step * step
            self._largest = max(self._largest, abs(step))
            if self._step is not None:
                self._seconds += 1
                self._second_sum += (step - self._step) ** 2
            self._step = step
        self._last = log2_luminance

    def part(self) -> None:
        """What comes next does not follow what came last."""
        self._last = self._step = None

    def flicker(self) -> Flicker | None:
        """None where no three brightnesses followed each other."""
        if not self._seconds:
            return None
        return Flicker(
            frames=self._frames,
            first_rms_ev=math.sqrt(self._first_sum / self._firsts),
            second_rms_ev=math.sqrt(self._second_sum / self._seconds),
            largest_step_ev=self._largest,
        )


def flicker(log2_luminance: ArrayLike) -> Flicker | None:
    """RMS of the first and second differences of consecutive frames, and the largest first one; None below 3 frames."""
    running = Running()
    for level in np.asarray(log2_luminance, dtype=float).tolist():
        running.add(level)
    return running.flicker()
