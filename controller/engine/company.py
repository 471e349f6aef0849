"""The cameras of one shoot. Each has a run of its own, so that none waits for another; what they share is here.

They share the moment of each slot. Whoever orders a slot first fixes it; the first camera, or the one that leads, does
so a little ahead of the others, and where it is stuck or gone they go on by the same plan without it.
"""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, NamedTuple

from controller.decide.beat import Beat, beat_of
from controller.decide.schedule import Window
from controller.words.documents import ENDED, Frame, FrameCounts, FrameState, ShootState

if TYPE_CHECKING:
    from controller.decide.step import Slot
    from controller.engine.run import ShootRun

KEPT = 4096
"""Slots that are remembered: more than are logged as missed in one go."""

GATHER_S = 15.0
"""Wall seconds for which a start by hand waits for a camera that is not ready, once another is."""


class Start(NamedTuple):
    """How a window begins for all: the window as it came to be, its first slot's moment, and its number."""

    window: Window
    due_mono: float
    seq: int


class Company:
    """The runs of a shoot by camera, the first one first. `lead`: whose exposure all take, if any's."""

    def __init__(self, lead: str | None = None) -> None:
        self.lead = lead
        self._runs: dict[str, ShootRun] = {}
        self._beats: dict[int, Beat] = {}
        self._starts: dict[float, Start] = {}
        self._ready: set[str] = set()
        self._gathered = asyncio.Event()
        self._over: set[str] = set()
        self._all_over = asyncio.Event()

    # ---- who is here

    def join(self, run: ShootRun) -> None:
        """A camera's run, or one that takes the place of a run that broke off."""
        self._runs[run.camera.id] = run

    @property
    def runs(self) -> list[ShootRun]:
        return list(self._runs.values())

    @property
    def first(self) -> ShootRun:
        """The run that stands for the shoot."""
        return next(iter(self._runs.values()))

    @property
    def cameras(self) -> set[str]:
        return set(self._runs)

    @property
    def several(self) -> bool:
        return len(self._runs) > 1

    def counts(self) -> FrameCounts:
        """Slots of all cameras by state."""
        each = [run.book.counts for run in self._runs.values()]
        return FrameCounts(**{name: sum(getattr(count, name) for count in each) for name in FrameCounts.model_fields})

    def last(self) -> Frame | None:
        """The newest row of any camera."""
        rows = [run.book.last for run in self._runs.values() if run.book.last is not None]
        return max(rows, key=lambda frame: frame.seq, default=None)

    def trouble(self) -> str | None:
        """What is wrong with cameras beside the first one."""
        recovering = [run for run in self.runs[1:] if run.shoot.state is ShootState.RECOVERING]
        return "; ".join(f"{run.camera.id}: {run.shoot.cause or 'not there'}" for run in recovering) or None

    # ---- one moment for all

    def beat(self, seq: int, camera: str) -> Beat | None:
        """What is fixed of a slot; its exposure only for those that take another camera's."""
        beat = self._beats.get(seq)
        if beat is not None and (self.lead is None or camera == self.lead):
            return Beat(beat.due_mono, beat.cycle_s, None)
        return beat

    def waits(self, seq: int, camera: str) -> bool:
        """Whether another camera goes ahead in that slot, and has not ordered it yet."""
        if not self.several or camera == (self.lead or self.first.camera.id):
            return False
        beat = self._beats.get(seq)
        return beat is None or (self.lead is not None and beat.exposure is None)

    def fix(self, slot: Slot, camera: str) -> None:
        """A slot is ordered, or has passed; what it fixes holds for those who come to it later."""
        known = self._beats.get(slot.seq)
        beat = beat_of(slot, leads=camera == self.lead)
        if known is None:
            self._beats[slot.seq] = beat
        elif known.exposure is None and beat.exposure is not None:
            self._beats[slot.seq] = Beat(known.due_mono, known.cycle_s, beat.exposure)
        else:
            return
        while len(self._beats) > KEPT:
            del self._beats[next(iter(self._beats))]
        for run in self._runs.values():
            if run.camera.id != camera:
                run.waker.wake()

    def forget(self) -> None:
        """What was fixed is void: the shoot was held."""
        self._beats.clear()

    def next_seq(self) -> int:
        """The number of the slot that comes next for the camera that is furthest."""
        return max((p.seq for run in self._runs.values() if (p := run.slots.progress) is not None), default=1)

    # ---- beginning and ending together

    async def gather(self, run: ShootRun) -> None:
        """Before a start by hand: wait until all are ready, or for a moment only."""
        self._ready.add(run.camera.id)
        if self._ready >= self._runs.keys():
            self._gathered.set()
        waiting = {asyncio.create_task(event.wait()) for event in (self._gathered, run.stop_event)}
        try:
            await asyncio.wait(waiting, timeout=GATHER_S, return_when=asyncio.FIRST_COMPLETED)
        finally:
            self._gathered.set()  # nobody waits twice
            for task in waiting:
                task.cancel()

    def start(self, window: Window, begun: Start) -> Start:
        """How that window begins: as the first camera that comes to it has it."""
        found = self._starts.setdefault(window.start_utc, begun)
        while len(self._starts) > 8:
            del self._starts[next(iter(self._starts))]
        return found

    def over(self, camera: str) -> None:
        """That camera's run has ended for good."""
        self._over.add(camera)
        if self._over >= self._runs.keys() - {self.first.camera.id}:
            self._all_over.set()

    async def others_over(self) -> None:
        """Return when every run but the first has ended."""
        if self.several and any(run.shoot.state not in ENDED for run in self.runs[1:]):
            await self._all_over.wait()


def held_over(frame: Frame) -> Frame:
    """The row of a slot that another camera had released when the shoot was held."""
    return frame.model_copy(update={"state": FrameState.MISSED, "cause": "held by hand"})
