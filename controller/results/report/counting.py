"""Slots that came due: got, missed and lost, by cause and by stretch."""

from __future__ import annotations

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


class Counting:
    """Takes all slots of a camera in order."""

    def __init__(self) -> None:
        self.missed, self.lost = Missing(), Missing()
        self.first_utc: float | None = None
        self.last_utc: float | None = None
        self.last_interval_s = 0.0
        self.all = Stretch(first_utc=0, last_utc=0, slots=0, frames=0, missed=0, lost=0)
        self._stretches: list[Stretch] = []

    def __call__(self, frame: Frame) -> None:
        due = frame.due_utc
        if self.last_utc is None or due - self.last_utc > max(_PAUSE_S, 3.0 * self.last_interval_s):
            self._stretches.append(Stretch(first_utc=due, last_utc=due, slots=0, frames=0, missed=0, lost=0))
            del self._stretches[:-STRETCHES]
        if self.first_utc is None:
            self.first_utc = due
        self.last_utc, self.last_interval_s = due, frame.interval_s
        stretch = self._stretches[-1]
        stretch.last_utc = due
        missed, lost = frame.state is FrameState.MISSED, frame.state is FrameState.LOST
        got = not missed and not lost and frame.state is not FrameState.DUE
        for counted in (self.all, stretch):
            counted.slots += 1
            counted.frames += got
            counted.missed += missed
            counted.lost += lost
        if missed:
            self.missed(frame)
        elif lost:
            self.lost(frame)

    def stretches(self) -> list[Stretch]:
        """None where there was no pause."""
        return self._stretches if len(self._stretches) > 1 else []
