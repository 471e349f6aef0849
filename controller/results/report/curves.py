"""The curves of a shoot or a rehearsal: what the frames tell over time, thinned to what a drawing can show."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise
from typing import Self

from pydantic import Field

from controller.results.report.counting import is_pause
from controller.words.documents import Document, Frame, FrameState

MOST = 3000
"""Points kept at most; beyond that every other one is let go, again and again, so that memory stays flat."""


class Curves(Document):
    """One entry a slot that is kept, in order; None where a slot does not know it. Times are POSIX seconds."""

    utc: list[float] = Field(default_factory=list)
    sun_altitude_deg: list[float | None] = Field(default_factory=list)
    interval_s: list[float] = Field(default_factory=list)
    shutter_s: list[float | None] = Field(default_factory=list)
    aperture: list[float | None] = Field(default_factory=list)
    iso: list[float | None] = Field(default_factory=list)
    exposure_ev: list[float | None] = Field(default_factory=list)
    target_ev: list[float | None] = Field(default_factory=list)
    scene_ev: list[float | None] = Field(default_factory=list)
    missed_utc: list[float] = Field(default_factory=list)
    every: int = 1  # of so many slots one is kept

    def breaks(self) -> list[int]:
        """After which entries nothing was due for long: pauses between windows, over which no line is drawn."""
        return [
            k
            for k, (here, after) in enumerate(pairwise(self.utc))
            if is_pause(after - here, self.every * self.interval_s[k])
        ]

    @classmethod
    def of(cls, frames: Iterable[Frame], most: int = MOST) -> Self:
        """The curves of frames in order."""
        curves = cls()
        collect = Collector(curves, most)
        for frame in frames:
            collect(frame)
        return curves


_COLUMNS = ("sun_altitude_deg", "interval_s", "shutter_s", "aperture", "iso", "exposure_ev", "target_ev", "scene_ev")
_OF_A_RELEASE = frozenset(_COLUMNS[2:6])  # what a missed slot has by intention only


class Collector:
    """Takes frames one by one into `curves`, in memory that does not grow with their number."""

    def __init__(self, curves: Curves, most: int = MOST) -> None:
        self.curves, self._most = curves, most
        self._seen = self._missed = 0
        self._every_missed = 1

    def __call__(self, frame: Frame) -> None:
        curves = self.curves
        missed = frame.state is FrameState.MISSED
        if missed:
            if self._missed % self._every_missed == 0:
                curves.missed_utc.append(frame.due_utc)
                if len(curves.missed_utc) > self._most:
                    del curves.missed_utc[1::2]
                    self._every_missed *= 2
            self._missed += 1
        if self._seen % curves.every == 0:
            curves.utc.append(frame.due_utc)
            for name in _COLUMNS:
                value = None if missed and name in _OF_A_RELEASE else getattr(frame, name)
                getattr(curves, name).append(value if value is None or math.isfinite(value) else None)
            if len(curves.utc) > self._most:
                for name in ("utc", *_COLUMNS):
                    del getattr(curves, name)[1::2]
                curves.every *= 2
        self._seen += 1
