"""The log of a rig whose clock was put again and again, on one clock that never steps.

A row's times are by the rig's clock as it was then, as its note of the step says. The simulated camera counts on the
machine's clock that never steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from controller.words.clock import ScaledClock
from controller.words.documents import Frame
from controller.words.times import iso

SLACK_S = 120.0
"""Plan seconds within which the engine may go by the old clock still, or a row may stand before its clock was."""


@dataclass
class BaseTime:
    """`clock` never steps; the rig's shows so many seconds more from each moment on, and no less in between."""

    clock: ScaledClock
    puts: list[tuple[float, float]] = field(default_factory=list)  # base time, seconds more

    def put(self, off_s: float) -> None:
        self.puts.append((self.clock.utc(), off_s))

    def frames(self, log: Sequence[Frame]) -> list[Frame]:
        """The rows by the clock that never steps. Raises ValueError for one that fits nowhere behind its forerunner."""
        based, place, last = [], 0, float("-inf")
        for frame in log:
            while not self._fits(frame.due_utc - self.puts[place][1], place, last):
                place += 1
                if place == len(self.puts):
                    raise ValueError(f"slot {frame.seq} was due at {iso(frame.due_utc)} by no clock that the rig had")
            off_s = self.puts[place][1]
            last = frame.due_utc - off_s
            released = None if frame.released_utc is None else frame.released_utc - off_s
            based.append(frame.model_copy(update={"due_utc": last, "released_utc": released}))
        return based

    def _fits(self, base: float, place: int, last: float) -> bool:
        begins = self.puts[place][0]
        ends = self.puts[place + 1][0] if place + 1 < len(self.puts) else float("inf")
        return base > last and begins - SLACK_S <= base <= ends + SLACK_S

    def record(self, shots: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
        """The camera's record by that clock."""
        at = [self.clock.epoch_utc + self.clock.from_wall(shot["released_mono"]) for shot in shots]
        return [{**shot, "released_utc": iso(utc)} for shot, utc in zip(shots, at, strict=True)]
