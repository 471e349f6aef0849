"""What the camera reports, taken up: into the log, into the light rule, and after a loss into order again."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Coroutine
from dataclasses import replace
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.camera.messages import (
    Fetched,
    Gone,
    Missed,
    Opened,
    Preview,
    Released,
    Report,
    Settled,
    Tried,
    Trouble,
    Written,
)
from controller.decide.exposure import Triple
from controller.decide.meter import Reading
from controller.decide.step import Slot, metered
from controller.engine.beside import Beside
from controller.engine.fetching import IN_VAIN, Fetching
from controller.engine.metering import Meter
from controller.words.documents import Frame, FrameState
from controller.words.errors import CameraError, DuskhandError
from controller.words.phrases import with_remedy
from controller.words.stops import exposure_ev

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

log = logging.getLogger(__name__)

COPIES_KEPT = 200
"""Frames of which one file of a pair has come and the other is waited for."""

SLOTS_KEPT = 20
"""Slots kept for a picture that comes late."""


class Reports:
    """Listens to one camera for one shoot."""

    def __init__(self, run: ShootRun, metering: Meter) -> None:
        self._run = run
        self._slots: dict[int, Slot] = {}
        self.metering = metering
        self.fetching = Fetching(run)
        self.beside = Beside(run.camera, run.clock, run.directory)
        self.unmetered = False
        self.blind: DuskhandError | None = None  # why the last picture could not be metered
        self.unread = 0  # frames since the last one whose picture could be
        self.scene_ev: float | None = None
        self.pictured: Frame | None = None
        self._came: dict[int, dict[str, int]] = {}  # sizes of what was fetched of frames whose copy is not whole yet
        self.news = 0
        self.opened_mono = run.clock.mono()
        self.gone_cause: str | None = None
        self._tasks: set[asyncio.Task[None]] = set()

    def expect(self, slot: Slot) -> None:
        """A slot has been ordered."""
        self._slots[slot.seq] = slot
        while len(self._slots) > SLOTS_KEPT:
            del self._slots[next(iter(self._slots))]
        self._forget_before(slot.seq - SLOTS_KEPT)

    def waiting_for(self) -> bool:
        """Frames whose end, or whose copy or picture, is still to come."""
        if self._run.camera.opened is None:
            return bool(self._run.book.open_frames())
        if self.unmetered or self.metering.keeping:
            return True
        return any(
            frame.state is FrameState.RELEASED or (frame.state is FrameState.WRITTEN and self.fetching.wants(frame.seq))
            for frame in self._run.book.frames.values()
        )

    def begin(self) -> None:
        """The camera is this shoot's from now on."""
        if self._run.camera.opened is not None:
            self._spawn(self._after_opening())

    async def take(self, report: Report) -> None:
        """One report; called in order. A fault of ours over one is told, and those after it are taken up."""
        try:
            await self._take(report)
        except Exception as error:  # noqa: BLE001  it is told
            await self._run.slots.say_trouble(error, f"a report of the camera ({type(report).__name__}) was let go")

    async def close(self) -> None:
        """The run has ended, or broke off and another takes its place: what looks after its frames ends with it."""
        if tasks := list(self._tasks):
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    async def _take(self, report: Report) -> None:
        self.news += 1
        if self.beside.heard(report):
            if isinstance(report, Written):
                await self._run.recovery.beside(report.camera_files, noted=self.beside.looking)
            self._run.waker.wake()
            return
        match report:
            case Settled():
                await self._settled(report)
            case Released():
                await self._released(report)
            case Written():
                await self._written(report)
            case Preview():
                await self._preview(report)
            case Missed():
                await self.missed(report.seq, report.cause)
            case Opened():
                await self._opened()
            case Gone():
                await self._gone(report)
            case Fetched():
                await self._fetched(report)
            case Trouble():
                await self._trouble(report)
            case Tried():
                self.news -= 1  # of the way back to the camera, not of a frame: nobody waits longer for it
                await self._tried(report)
            case _:
                self.news -= 1
        self._run.waker.wake()

    # ---- the camera comes and goes

    async def _opened(self) -> None:
        run = self._run
        self.opened_mono = run.clock.mono()
        opened = run.camera.opened
        assert opened is not None
        if self.gone_cause is not None:
            await run.book.note("camera-back", f"{opened.model} is there again", run.clock.utc())
        self._spawn(self._after_opening(beside=self.beside.given_up()))

    async def _after_opening(self, *, beside: bool = False) -> None:
        """`beside`: a frame that belongs to no slot was in hand when the camera was lost."""
        await self._run.recovery.learn_baseline()
        if beside:
            self._spawn(self._run.recovery.look_beside())
        await self.fetching.opened()
        await self._run.recovery.watch()

    async def fetch_more(self) -> None:
        """Ask for copies that were left for later, where there is room; trouble is noted, and they stay left."""
        try:
            await self.fetching.more()
        except CameraError as error:
            log.info("%s: no copies were asked for: %s; asked when the camera is back", self._run.shoot.id, error)
        except DuskhandError as error:
            await self._run.book.note("engine-trouble", str(error), self._run.clock.utc(), code=error.code)

    def _spawn(self, work: Coroutine[Any, Any, None]) -> None:
        async def guarded() -> None:
            try:
                await work
            except CameraError as error:
                log.warning("%s: after opening the camera: %s; tried again when it is back", self._run.shoot.id, error)
            except DuskhandError as error:
                await self._run.book.note("engine-trouble", str(error), self._run.clock.utc(), code=error.code)
            except Exception as error:  # noqa: BLE001  it is told
                await self._run.slots.say_trouble(error, "it is looked at again once the camera is opened anew")

        def over(task: asyncio.Task[None]) -> None:
            self._tasks.discard(task)
            work.close()  # where it was cancelled before it began

        task = asyncio.create_task(guarded())
        self._tasks.add(task)
        task.add_done_callback(over)

    async def _gone(self, report: Gone) -> None:
        run = self._run
        self.gone_cause = report.what
        self.unmetered = False
        run.recovery.set_adrift()
        if run.slots.ordered is not None and (slot := self._slots.get(run.slots.ordered)) is not None:
            run.slots.outcome(slot, released=False)
        text = with_remedy(report.what, report.remedy)
        await run.book.note("camera-gone", text, run.clock.utc(), code=report.code, seqs=report.seqs)

    # ---- a frame's way

    async def _settled(self, report: Settled) -> None:
        frame = self._run.book.frames.get(report.seq)
        if frame is None:
            return
        aperture = report.aperture or frame.aperture
        if (report.shutter_s, aperture, report.iso) == (frame.shutter_s, frame.aperture, frame.iso):
            return
        ev = exposure_ev(report.shutter_s, aperture, report.iso) if aperture else None
        if aperture and ev is not None and (slot := self._slots.get(report.seq)) is not None:
            self._slots[report.seq] = replace(slot, exposure=Triple(report.shutter_s, aperture, report.iso, ev))
        await self._run.book.change(
            report.seq, shutter_s=report.shutter_s, aperture=aperture, iso=report.iso, exposure_ev=ev
        )

    async def _released(self, report: Released) -> None:
        run = self._run
        slot = self._slots.get(report.seq)
        frame = run.book.frames.get(report.seq)
        if slot is None or frame is None:
            return
        late_s = run.clock.from_wall(report.at_mono) - slot.due_mono
        moved = {} if run.moving is None else run.moving.heard(run, slot, report)
        self.unmetered = run.plan.files.fetch_of(report.seq) != "none"
        self.unread += self.unmetered
        run.slots.outcome(slot, released=True)
        await run.book.change(
            report.seq,
            state=FrameState.RELEASED,
            released_utc=slot.due_utc + late_s,
            late_ms=round(late_s * 1000, 3),
            **moved,
        )

    async def missed(self, seq: int, cause: str) -> None:
        """A slot in hand passed without a release, or its order was taken back."""
        slot = self._slots.get(seq)
        if self._run.slots.withdrawing == seq:
            self._run.slots.order_withdrawn(seq)
            await self._run.book.withdraw(seq)
            return
        if slot is not None:
            self._run.slots.outcome(slot, released=False)
        await self._run.book.change(seq, state=FrameState.MISSED, cause=cause)
        self._run.book.forget(seq)

    async def _written(self, report: Written) -> None:
        if report.camera_files:
            await self.on_card(report.seq, report.camera_files)

    async def on_card(self, seq: int, paths: list[str], **more: object) -> Frame | None:
        """A frame is on the card, under these paths."""
        if seq not in self._run.book.frames and len(paths) > 1:  # the second file, after all was done for the first
            await self._second_file(seq)
        frame = await self._run.book.change(
            seq,
            state=FrameState.WRITTEN,
            camera_file=paths[0],
            companion_file=paths[1] if len(paths) > 1 else None,
            **more,
        )
        self.fetching.written(seq)
        self._run.recovery.ashore(seq)
        self._forget_before(seq - SLOTS_KEPT)
        return frame

    async def _second_file(self, seq: int) -> None:
        """Take up a frame that was done with, and the size of its copy."""
        frame = await self._run.book.recall(seq)
        if frame is not None and frame.camera_file is not None and frame.local_file is not None:
            self._came[seq] = {frame.camera_file: frame.bytes or 0}

    def _forget_before(self, seq: int) -> None:
        """Written frames that want no fetching stay only until their preview can no longer come, and slots that were
        given up until no report of them can."""
        frames = self._run.book.frames
        for other in list(takewhile(lambda other: other < seq, frames)):
            state = frames[other].state
            done = state is FrameState.WRITTEN and not self.fetching.wants(other)
            if done or (state is FrameState.MISSED and not self._run.recovery.looks_for(other)):
                self._run.book.forget(other)

    async def _preview(self, report: Preview) -> None:
        run = self._run
        slot = self._slots.get(report.seq)
        frame = run.book.frames.get(report.seq)
        fields: dict[str, object] = {}
        reading: Reading | None = None
        try:
            reading = await self.metering.take(report, slot)
        except DuskhandError as error:
            if self.blind is None:  # told once, not at every frame
                text = f"from frame {report.seq} on the exposure follows the sky model alone: {error}"
                await run.book.note("no-metering", text, run.clock.utc(), code=error.code)
            self.blind = error
        if reading is not None:
            self.unread = 0
            if self.blind is not None:
                self.blind = None
                await run.book.note("metering-again", f"frame {report.seq} is metered again", run.clock.utc())
            kept = await self.metering.keep(report, self._kept_late)
            fields = {"preview": kept, "clipped": round(reading.clipped, 4), "black": round(reading.black, 4)}
        if slot is not None and run.slots.progress is not None and frame is not None:
            run.slots.progress, scene_ev = metered(run.plan, run.adjust, run.slots.progress, slot, reading)
            if scene_ev is not None:
                self.scene_ev = scene_ev
                fields["scene_ev"] = round(scene_ev, 4)
            if run.slots.ordered is None or report.seq >= run.slots.ordered - 1:
                self.unmetered = False
        if fields:
            self.pictured = await run.book.change(report.seq, **fields)

    async def _kept_late(self, seq: int, kept: bool) -> None:
        """A slow disk has taken a picture, or could not."""
        book = self._run.book
        frame = await book.change(seq, preview=True) if kept else book.frames.get(seq)
        if frame is not None and frame.state is FrameState.FETCHED:
            book.forget(seq)
        self._run.waker.wake()

    async def _fetched(self, report: Fetched) -> None:
        run = self._run
        frame = run.book.frames.get(report.seq)
        if frame is None:
            return
        files = self._came.setdefault(report.seq, {})
        while len(self._came) > COPIES_KEPT:
            del self._came[next(iter(self._came))]
        files[report.camera_file] = report.size
        fields: dict[str, object] = {"bytes": sum(files.values())}
        if frame.camera_file is None or report.camera_file == frame.camera_file:
            path = Path(report.path)
            local = path.relative_to(run.directory) if path.is_relative_to(run.directory) else path
            fields |= {"local_file": str(local), "sha256": report.sha256}
        else:
            fields["companion_sha256"] = report.sha256
        whole = frame.camera_file in (None, *files) and frame.companion_file in (None, *files)
        if whole:  # of a pair both files, which lie beside each other
            fields["state"] = FrameState.FETCHED
            del self._came[report.seq]
        await run.book.change(report.seq, **fields)
        if not whole:
            return
        if report.seq not in self.metering.keeping:
            run.book.forget(report.seq)
        self.fetching.came(report.seq)
        if self.fetching.behind:
            self._spawn(self.fetch_more())

    async def _trouble(self, report: Trouble) -> None:
        run = self._run
        text = with_remedy(report.what, report.remedy)
        await run.book.note("camera-trouble", text, run.clock.utc(), code=report.code, seq=report.seq)
        if report.code == "not-fetched":
            await self._not_fetched(report.seq)

    async def _not_fetched(self, seq: int | None) -> None:
        if seq is not None and self.fetching.failed(seq):
            text = f"{IN_VAIN} copies in a row did not come; what is left is asked for once the camera is opened anew"
            await self._run.book.note("copies-wait", text, self._run.clock.utc())

    async def _tried(self, report: Tried) -> None:
        """A step on the way back to a camera that was lost."""
        clock = self._run.clock
        often = "" if report.times == 1 else f", {report.times} times"
        text = f"{report.step}{often}, {report.took_s:.1f} s: {report.what}"
        began_utc = clock.utc() - (clock.mono() - clock.from_wall(report.began_mono))
        facts = {"took_s": round(report.took_s, 3), "lost_s": round(report.lost_s, 3), "worked": report.worked}
        await self._run.book.note("camera-step", text, began_utc, step=report.step, times=report.times, **facts)
