"""The log of a rig whose clock was put again and again, on one clock that never steps.

A row's times are by the rig's clock as it was then, as its note of the step says. The simulated camera counts on the
machine's clock that never steps.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from controller.words.clock import ScaledClock
from controller.words.documents import Frame, Note
from controller.words.times import iso

SLACK_S = 900.0
"""Plan seconds by which a row may stand before or after its clock did: much less than a night is put forward by."""


@dataclass
class BaseTime:
    """`clock` never steps; the rig's shows so many seconds more from each moment on, and no less in between."""

    clock: ScaledClock
    puts: list[tuple[float, float]] = field(default_factory=list)  # base time, seconds more

    def put(self, off_s: float) -> None:
        self.puts.append((self.clock.utc(), off_s))

    def frames(self, log: Sequence[Frame], notes: Sequence[Note]) -> list[Frame]:
        """The rows by the clock that never steps.

        A put that the rig saw is noted with the last row before it; one that came while it was off is told by its size,
        a night. Raises ValueError for a row that fits nowhere behind its forerunner.
        """
        noted = self._noted(notes)
        based, place, last = [], 0, float("-inf")
        for frame in log:
            while not self._behind(frame, place, last, noted):
                place += 1
                if place == len(self.puts):
                    raise ValueError(f"slot {frame.seq} was due at {iso(frame.due_utc)} by no clock that the rig had")
            off_s = self.puts[place][1]
            last = frame.due_utc - off_s
            released = None if frame.released_utc is None else frame.released_utc - off_s
            based.append(frame.model_copy(update={"due_utc": last, "released_utc": released}))
        return based

    def _noted(self, notes: Sequence[Note]) -> dict[int, int]:
        """The last row by the clock before, for each put that was noted."""
        found: dict[int, int] = {}
        for note in (note for note in notes if note.kind == "clock-step"):
            steps = ((i, self.puts[i][1] - self.puts[i - 1][1]) for i in range(1, len(self.puts)) if i not in found)
            first = max(found, default=0)
            place = next((i for i, step_s in steps if i > first and abs(step_s - note.facts["step_s"]) < 1.0), None)
            if place is not None:
                found[place] = note.facts["last_seq"]
        return found

    def _behind(self, frame: Frame, place: int, last: float, noted: Mapping[int, int]) -> bool:
        """Whether the row is by this clock, as far as notes, times and its forerunner tell."""
        if (upto := noted.get(place + 1)) is not None:
            return frame.seq <= upto
        base = frame.due_utc - self.puts[place][1]
        ends = self.puts[place + 1][0] if place + 1 < len(self.puts) else float("inf")
        return base > last and self.puts[place][0] - SLACK_S <= base <= ends + SLACK_S

    def record(self, shots: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
        """The camera's record by that clock."""
        at = [self.clock.epoch_utc + self.clock.from_wall(shot["released_mono"]) for shot in shots]
        return [{**shot, "released_utc": iso(utc)} for shot, utc in zip(shots, at, strict=True)]
