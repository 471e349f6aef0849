"""How bright the frames came out by the log alone, and what steadying would make of that."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from controller.results.clip.over_gaps import Gaps
from controller.results.clip.steady import steady
from controller.results.flicker import Flicker, Running
from controller.results.report.documents import Steadied
from controller.words.documents import Frame

BLOCK = 1000
MOST_BLOCKS = 24
"""Blocks that are kept to be steadied; beyond that every other one is let go, again and again."""


@dataclass(frozen=True, slots=True)
class Track:
    """Brightness over time: log2 of the pictures' luminance over mid grey, as it was and as steadying would have it."""

    utc: list[float]
    measured: list[float]
    wanted: list[float]


class Brightness:
    """Takes frames in order. What the scene had, less what the settings took away, is what the picture shows."""

    def __init__(self) -> None:
        self._running = Running()
        self._blocks: list[list[tuple[float, float, float, float]]] = []
        self._every = 1
        self._seen = 0

    def __call__(self, frame: Frame) -> None:
        scene, exposure = frame.scene_ev, frame.exposure_ev
        if scene is None or exposure is None or not math.isfinite(scene - exposure):
            return
        self._running.add(scene - exposure)
        number, place = divmod(self._seen, BLOCK)
        self._seen += 1
        if number % self._every:
            return
        if place == 0:
            if len(self._blocks) == MOST_BLOCKS:
                del self._blocks[1::2]
                self._every *= 2
                if number % self._every:
                    return
            self._blocks.append([])
        self._blocks[-1].append((frame.due_utc, frame.interval_s, scene - exposure, exposure))

    def flicker(self) -> Flicker | None:
        """Of all frames as they were exposed."""
        return self._running.flicker()

    def steadied(self) -> tuple[Steadied | None, Track]:
        """The same of what steadying would make of it, and the track of both. Blocks that follow each other are
        steadied together."""
        running, track = Running(), Track([], [], [])
        whole = [[row for block in self._blocks for row in block]] if self._every == 1 else self._blocks
        for rows in whole:
            if not rows:
                continue
            utc, interval_s, measured, exposure = (np.array(column) for column in zip(*rows, strict=True))
            wanted = steady(measured, exposure, Gaps.of(utc, interval_s)).wanted
            running.part()
            for level in wanted.tolist():
                running.add(level)
            track.utc.extend(utc.tolist())
            track.measured.extend(measured.tolist())
            track.wanted.extend(wanted.tolist())
        after = running.flicker()
        return None if after is None else Steadied(after=after, every=self._every), track
