"""Slots that came due: got, missed and lost, by cause and by stretch."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from controller.results.report.documents import Gone, Run, Stretch
from controller.words.documents import Frame, FrameState

RUNS = 200
"""Runs of missing slots that are kept for one cause: the first ones."""

CAUSES = 100
"""Causes that are told apart; what comes after them is `OTHER`."""

OTHER = "other causes"
STRETCHES = 400
"""Stretches that are kept: the newest ones."""

_PAUSE_S = 60.0


def is_pause(gap_s: float, interval_s: float) -> bool:
    """Whether so long between two slots parts what was shot."""
    return gap_s > max(_PAUSE_S, 3.0 * interval_s)


class Missing:
    """Takes slots that are missing, in order, by their cause."""

    def __init__(self) -> None:
        self._groups: dict[str, Gone] = {}

    def __call__(self, frame: Frame) -> None:
        cause = frame.cause or "no cause logged"
        if cause not in self._groups and len(self._groups) >= CAUSES:
            cause = OTHER
        gone = self._groups.get(cause)
        if gone is not None and frame.seq - gone.last.last_seq in (0, 1):
            gone.last.last_seq, gone.last.last_utc = frame.seq, frame.due_utc
            gone.last.slots += 1
        else:
            first, due = frame.seq, frame.due_utc
            run = Run(first_seq=first, last_seq=first, first_utc=due, last_utc=due, slots=1)
            if gone is None:
                gone = self._groups[cause] = Gone(cause=cause, slots=0, times=0, runs=[], last=run)
            gone.last = run
            gone.times += 1
            if len(gone.runs) < RUNS:
                gone.runs.append(run)
        gone.slots += 1

    def groups(self) -> list[Gone]:
        """The cause that took the most slots first."""
        return sorted(self._groups.values(), key=lambda each: (-each.slots, each.runs[0].first_seq))


@dataclass(slots=True)
class Part:
    """Counts of some slots that follow each other."""

    first_utc: float = 0.0
    last_utc: float = 0.0
    slots: int = 0
    frames: int = 0
    missed: int = 0
    lost: int = 0

    def add(self, frame: Frame) -> None:
        if not self.slots:
            self.first_utc = frame.due_utc
        self.last_utc = frame.due_utc
        self.slots += 1
        if frame.state is FrameState.MISSED:
            self.missed += 1
        elif frame.state is FrameState.LOST:
            self.lost += 1
        elif frame.state is not FrameState.DUE:
            self.frames += 1


class Counting:
    """Takes all slots of a camera in order."""

    def __init__(self) -> None:
        self.missed, self.lost = Missing(), Missing()
        self.all = Part()
        self.last_interval_s = 0.0
        self._parts: list[Part] = []

    def __call__(self, frame: Frame) -> None:
        paused = is_pause(frame.due_utc - self.all.last_utc, self.last_interval_s)
        if paused or not self._parts:
            self._parts.append(Part())
            del self._parts[:-STRETCHES]
        self.last_interval_s = frame.interval_s
        self.all.add(frame)
        self._parts[-1].add(frame)
        if frame.state is FrameState.MISSED:
            self.missed(frame)
        elif frame.state is FrameState.LOST:
            self.lost(frame)

    @property
    def first_utc(self) -> float | None:
        """When the first slot was due; None where there is none."""
        return self.all.first_utc if self.all.slots else None

    @property
    def last_utc(self) -> float | None:
        return self.all.last_utc if self.all.slots else None

    def stretches(self) -> list[Stretch]:
        """None where there was no pause."""
        return [Stretch(**asdict(part)) for part in self._parts] if len(self._parts) > 1 else []
