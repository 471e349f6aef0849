"""Films that the rig makes by itself: of each window once it is over, and small ones that grow while it is shot.

One is made at a time, in a process that gives way to everything else. While frames come in quick succession it stands
still; before the disk gets near what fetching needs it is ended, and begun anew once there is room.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

from controller.decide import clips as rules
from controller.engine.clip_asks import EVERY, WORKED_FROM, Checker, ClipAsks
from controller.engine.clip_windows import ClipWindows
from controller.engine.disk import RigDisk
from controller.engine.hub import Hub
from controller.engine.noting import note
from controller.engine.shoots import Shoots
from controller.results.series.asked import FramesAsked
from controller.store import Store, clips
from controller.words.clips import SMALL_FRAMES, Clip, ClipForm, ClipKind, ClipRecord, ClipState
from controller.words.clock import Clock
from controller.words.documents import ShootState
from controller.words.errors import BadInput, Conflict, DuskhandError, StoreError

log = logging.getLogger(__name__)

LOOK_EVERY_S = 2.0
MOST_ASKED = 8
"""Films that people have asked for and that are not made yet."""

_TOLD_SHARE = 0.05
_ORDER = (ClipKind.MADE, ClipKind.PREVIEW, ClipKind.DAY)  # somebody waits for the first


class Maker(Protocol):
    """See `controller.aside.clip_process`."""

    paused: bool

    async def make(self, task: dict[str, Any], progress: Callable[[float], None]) -> dict[str, Any]: ...

    def pause(self, wanted: bool) -> None: ...


class _Rig(Protocol):
    directory: Path
    clock: Clock
    store: Store
    hub: Hub
    shoots: Shoots


class Clips:
    """Of one rig. `look` is a chore. `trouble` is what the last film that was tried met."""

    def __init__(self, rig: _Rig, disk: RigDisk, maker: Maker, checker: Checker) -> None:
        self._rig, self._disk, self._maker = rig, disk, maker
        self._asks = ClipAsks(rig, checker)
        self._windows = ClipWindows()
        self._pending: dict[tuple[str, str], ClipRecord] = {}
        self._again_mono: dict[tuple[str, str], float] = {}
        self._shown: dict[tuple[str, str], tuple[int, float, float]] = {}  # slots, when made, and in how long
        self._work: asyncio.Task[None] | None = None
        self._taking = asyncio.Lock()
        self.making: ClipRecord | None = None
        self.trouble: DuskhandError | None = None

    async def open(self) -> None:
        """Take up what was to be made when the rig ended."""
        try:
            found = await asyncio.to_thread(clips.of_all_shoots, self._rig.directory)
        except OSError as error:  # films are worth no frame
            log.warning("films that were to be made are not known: %s", error)
            return
        for record in found:
            if record.state is ClipState.SHOOTING:
                self._windows.take_up([record])
            elif record.state in (ClipState.WAITING, ClipState.MAKING):
                record.state, record.progress = ClipState.WAITING, None
                self._pending[_key(record)] = record

    async def close(self) -> None:
        """End what is being made; it is begun anew at the next start."""
        await self._end()

    # ---- looking

    async def look(self) -> None:
        """Look at what is shot, and begin, hold up or end the making of a film. Raises StoreError."""
        for record in self._windows.look(self._rig.shoots.all_runs):
            if record.state is ClipState.WAITING:
                if self._useless(record):
                    await self._tidy(record)
                else:
                    self._pending[_key(record)] = record
            await self._keep(record)
        quick = rules.too_quick(self._interval_s())
        if self._work is not None and not self._work.done():
            await self._look_after(quick)
            return
        if self._work is not None and (error := self._work.exception()) is not None:
            log.error("making films", exc_info=error)
        self._work = None
        if (chosen := self._next()) is not None:
            await self._begin(chosen, quick)

    async def _begin(self, record: ClipRecord, quick: str | None) -> None:
        why = quick or await self._room(record)
        if why is None:
            self.making = record
            self._work = asyncio.create_task(self._make(record), name=f"clip {record.name}")
        elif record.why != why:
            record.why = why
            self._tell(record)

    async def _look_after(self, quick: str | None) -> None:
        record = self.making
        if record is None:
            return
        self._maker.pause(quick is not None)
        if record.why != quick:
            record.why = quick
            self._tell(record)
        if self._disk.free < rules.ROOM * self._disk.reserve:
            await self._end()
            await self._tidy(record)  # which takes room itself
            record.why = rules.too_little_room(self._disk.free, rules.ROOM * self._disk.reserve)
            self._tell(record)

    def _useless(self, record: ClipRecord) -> bool:
        """A small film of a window that is over, of which a whole one is made."""
        run = self._rig.shoots.runs.get(record.shoot)
        if record.kind is ClipKind.PREVIEW and run is not None and run.plan.clip.daily:
            record.state = ClipState.READY if record.made_utc is not None else ClipState.FAILED
            record.why = None if record.made_utc is not None else "its window is over, see that day's film"
            return True
        return False

    def _interval_s(self) -> float | None:
        """The shortest interval that is shot at now, wall seconds; of a bracket from frame to frame on average."""
        rate = self._rig.clock.rate
        return min(
            (
                run.slots.progress.interval_s / len(run.plan.light.offsets) / rate
                for run in self._rig.shoots.all_runs
                if run.shoot.state is ShootState.SHOOTING
                and run.slots.progress is not None
                and run.slots.progress.interval_s is not None
            ),
            default=None,
        )

    def _next(self) -> ClipRecord | None:
        now_mono = time.monotonic()
        due = [r for key, r in self._pending.items() if self._again_mono.get(key, 0.0) <= now_mono]
        due += [r for r in self._windows.under_way if r.kind is ClipKind.PREVIEW and self._grown(r, now_mono)]
        return min(due, key=lambda r: (_ORDER.index(r.kind), r.since_utc or 0.0), default=None)

    def _grown(self, record: ClipRecord, now_mono: float) -> bool:
        shown, made_mono, took_s = self._shown.get(_key(record), (0, -1e9, 0.0))
        return rules.grown(self._slots(record), shown, now_mono - made_mono, took_s)

    def _slots(self, record: ClipRecord) -> int:
        return self._windows.slots((record.shoot, record.camera or ""), self._rig.shoots.all_runs)

    async def _room(self, record: ClipRecord) -> str | None:
        small = record.kind is ClipKind.PREVIEW
        frames = record.pictures
        if frames is None:
            last = await self._rig.store.last_frame(record.shoot, record.camera)
            last_seq = record.last_seq or (0 if last is None else last.seq)
            frames = min(last_seq - record.after_seq, SMALL_FRAMES if small else last_seq)
        return rules.too_little_room(self._disk.free, rules.room_wanted(frames, small, self._disk.reserve))

    # ---- making

    async def _make(self, record: ClipRecord) -> None:
        under_way = record.state is ClipState.SHOOTING
        try:
            await self._film(record, under_way)
        except Exception as error:  # else it is begun anew at every look, and nobody is told
            log.exception("making %s", record.name)
            what = f"internal trouble: {error or type(error).__name__}"
            await self._failed(record, DuskhandError("clip-failed", what, record.name), under_way)

    async def _film(self, record: ClipRecord, under_way: bool) -> None:
        key = _key(record)
        slots, began = self._slots(record), time.monotonic()
        directory = self._rig.directory
        out = clips.own_file(directory, record.shoot, record.name)
        if not under_way:
            record.state = ClipState.MAKING
        record.why, record.progress = None, 0.0
        ready = False
        try:
            await self._keep(record)
            task = {
                **record.model_dump(mode="json", include=WORKED_FROM),
                **{"since_utc": record.since_utc, "until_utc": record.until_utc},
                **{"directory": str(directory), "out": str(out), "small": record.kind is ClipKind.PREVIEW},
                "keep_work": under_way,  # the next one goes on from it
            }
            came = await self._maker.make(task, lambda share: self._progress(record, share))
            ready = True
        except DuskhandError as error:
            await self._failed(record, error, under_way)
        finally:
            record.progress = None
            if record.state is ClipState.MAKING and not ready:
                record.state = ClipState.WAITING
            self._shown[key] = (slots, time.monotonic(), time.monotonic() - began)
            self.making = None
        if ready:
            record.frames, record.missing, record.remarks = came["frames"], came["missing"], came["remarks"]
            record.duration_s, record.bytes = came["duration_s"], came["bytes"]
            for name in ClipForm.model_fields:
                setattr(record, name, came[name])
            record.made_utc, record.why, self.trouble = self._rig.clock.utc(), None, None
            if record.state is ClipState.MAKING:
                record.state = ClipState.READY
            if record.state is ClipState.READY:
                self._pending.pop(key, None)
            await self._keep(record)
            if record.kind is ClipKind.DAY:
                text = f"the film of {record.date} is made: {record.name}, {record.frames} frames"
                await note(self._rig, "clip-made", text, shoot=record.shoot, name=record.name, frames=record.frames)

    async def _failed(self, record: ClipRecord, error: DuskhandError, under_way: bool) -> None:
        record.why, record.progress = str(error), None
        if under_way:  # it is tried again as it grows
            self.trouble = None if isinstance(error, BadInput) else error
            await self._keep(record)
            return
        key = _key(record)
        record.tries += 1
        passing = _passing(record, error)
        again_s = rules.again_in_s(record.tries) if passing else None
        record.state = ClipState.FAILED if again_s is None else ClipState.WAITING
        if again_s is None:
            self._pending.pop(key, None)
        else:
            self._again_mono[key] = time.monotonic() + again_s
        if error.code == "clip-unfinished" or again_s is None:
            await self._tidy(record)
        if passing:  # unlike a window without a picture, which its log tells
            self.trouble = error
        if record.tries == 1 or again_s is None:
            text = f"{record.name} was not made: {error}"
            await note(self._rig, "clip-trouble", text, shoot=record.shoot, name=record.name, code=error.code)
        await self._keep(record)

    def _progress(self, record: ClipRecord, share: float) -> None:
        if share - (record.progress or 0.0) >= _TOLD_SHARE:
            record.progress = round(share, 3)
            self._tell(record)

    async def _end(self) -> None:
        if self._work is not None:
            self._work.cancel()
            with contextlib.suppress(asyncio.CancelledError, DuskhandError):
                await self._work
            self._work = None

    async def _tidy(self, record: ClipRecord) -> None:
        await asyncio.to_thread(clips.tidy, self._rig.directory, record.shoot, record.name)

    async def _keep(self, record: ClipRecord) -> None:
        """Where it cannot be written it is tried again with the next change; what is there is true of the past."""
        try:
            await asyncio.to_thread(clips.keep, self._rig.directory, record)
        except StoreError as error:
            log.warning("not written down: %s", error)
        self._tell(record)

    def _tell(self, record: ClipRecord) -> None:
        self._rig.hub.publish("clip", record.told())

    # ---- what is asked

    async def all(self, shoot: str) -> list[Clip]:
        """Every film of a shoot, made or to come. Raises NotFound."""
        await self._rig.store.shoot(shoot)
        found = await asyncio.to_thread(clips.listed, self._rig.directory, shoot)
        alive = [*self._pending.values(), *self._windows.under_way, *([self.making] if self.making else [])]
        found |= {record.name: record for record in alive if record.shoot == shoot}
        return [record.told() for record in sorted(found.values(), key=lambda r: (r.since_utc or 0.0, r.name))]

    async def ask(self, shoot: str, options: dict[str, Any], asked: FramesAsked = EVERY) -> Clip:
        """Have a film made now: of a whole shoot, or of those frames of it and of others.

        Raises NotFound, BadInput, Conflict.
        """
        await self._rig.store.shoot(shoot)
        self._refuse_more(shoot)
        record = await self._asks.record(shoot, options, asked)
        async with self._taking:  # others may have asked while that was looked at; each has a name of its own
            self._refuse_more(shoot)
            record.name = await self._asks.name(shoot)
            await asyncio.to_thread(clips.keep, self._rig.directory, record)
            self._pending[_key(record)] = record
        self._tell(record)
        return record.told()

    def _refuse_more(self, shoot: str) -> None:
        if sum(record.kind is ClipKind.MADE for record in self._pending.values()) >= MOST_ASKED:
            what = f"{MOST_ASKED} films are still to be made"
            raise Conflict("clips-waiting", what, f"shoot {shoot}", "Ask again once one of them is ready")


def _passing(record: ClipRecord, error: DuskhandError) -> bool:
    """Whether another try may do. Whoever asked for too large a film may ask for a smaller one; a day's film waits."""
    waits = error.code == "clip-memory" and record.kind is not ClipKind.MADE
    return waits or not isinstance(error, BadInput)


def _key(record: ClipRecord) -> tuple[str, str]:
    return record.shoot, record.name
