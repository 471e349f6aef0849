"""The book of a shoot: its frames in memory, kept true in the log and on the event stream.

Writing never stands in the way of a release: where the log cannot be written (a full disk) or takes its time, what was
to be written is kept in order and written as soon as it can be.
"""

from __future__ import annotations

import logging
from collections import Counter, deque
from collections.abc import AsyncIterator, Collection, Iterable
from typing import Any

from controller.engine.log import Log, Teller
from controller.engine.passed import NOT_RUNNING
from controller.engine.writing import InOrder, Writing
from controller.words.documents import Frame, FrameCounts, FrameState, Note
from controller.words.errors import StoreError
from controller.words.layout import FIRST_CAMERA

log = logging.getLogger(__name__)

BESIDE, BETWEEN = ("test-frame", "tone-curve"), ("test-frame-between",)
"""Kinds of notes that name files on the card which belong to no slot: before those of slots, and among them."""

OF_WIRING = ("wiring-trouble", "wiring-again", "heater-off", "no-pulse", "pulses-again")

OF_HEALTH = ("raised", "cleared")

OF_THE_SHOOT = frozenset(
    {*OF_WIRING, *OF_HEALTH, "held", "resumed", "stopped", "changed", "clock-step", "rig-started", "windows-passed"}
)
"""Kinds of notes that are of the whole shoot; where several cameras shoot, only the first one's book has them."""

MANY, MANY_WITHIN_S = 100, 5.0
"""So many missed slots at once are waited for until the log has them, up to so many wall seconds: after an outage they
come faster than a log takes them, and would fill the memory."""

REMEMBERED = 2000
"""Missed slots, and lost frames, that are remembered with their cause."""

PAGE = 1000
"""Rows that are read from the log at once."""

OPEN = frozenset({FrameState.DUE, FrameState.RELEASED})


class Book:
    """Frames of one camera in one shoot: those whose fate is not known yet, and those that still want fetching.

    `place` is None where the camera shoots alone, 0 for the first of several: the others leave to it what is of the
    whole shoot.
    """

    def __init__(
        self,
        shoot: str,
        store: Log,
        hub: Teller,
        writing: Writing | None = None,
        *,
        camera: str = FIRST_CAMERA,
        place: int | None = None,
    ) -> None:
        self.shoot, self.camera, self._place = shoot, camera, place
        self.store, self._hub = store, hub
        self.frames: dict[int, Frame] = {}
        self.last: Frame | None = None
        self.lately_missed: deque[Frame] = deque(maxlen=REMEMBERED)  # while the rig was running
        self.lately_lost: deque[Frame] = deque(maxlen=REMEMBERED)
        self.off = 0  # slots missed since the rig was not running, of those logged since it was started
        self._counts: Counter[FrameState] = Counter()
        self._unlogged: set[int] = set()  # slots in `frames` that have no row, and get none
        self._left_out: tuple[int, int] | None = None  # the first and the last of those, while no rows are kept
        self._writing = writing or InOrder(shoot)

    async def load(self) -> None:
        """Take up what the log knows of this shoot."""
        counts = await self.store.counts(self.shoot, self.camera)
        for state in (
            FrameState.RELEASED,
            FrameState.WRITTEN,
            FrameState.FETCHED,
            FrameState.LOST,
            FrameState.MISSED,
        ):
            self._counts[state] = getattr(counts, state.value)
        for frame in await self.store.open_frames(self.shoot, self.camera):
            self.frames[frame.seq] = frame
            if frame.state is FrameState.DUE:
                self._counts[FrameState.DUE] += 1
        self.last = await self.store.last_frame(self.shoot, self.camera)

    @property
    def trouble(self) -> StoreError | None:
        """Why the log cannot be written at present."""
        return self._writing.trouble

    @property
    def counts(self) -> FrameCounts:
        return FrameCounts(**{s.value: self._counts[s] for s in FrameState if s is not FrameState.DUE})

    def open_frames(self) -> list[Frame]:
        """Frames that were due or released and are not known to be on the card."""
        return [frame for frame in self.frames.values() if frame.state in OPEN]

    async def intend(self, frame: Frame, within_s: float) -> None:
        """Write the intent to release; committed when this returns.

        Where the disk takes longer than `within_s` the release does not wait for it, nor where the log is unwritable;
        the intent is written all the same, before whatever becomes known of the frame.
        """
        self.frames[frame.seq] = frame
        self._counts[FrameState.DUE] += 1
        if await self._leaves_out(frame):
            self._unlogged.add(frame.seq)
            return

        async def write() -> None:
            number = await self.store.intend(frame)
            held = self.frames.get(frame.seq)
            if held is not None and held.id != number:
                self.frames[frame.seq] = held.but({"id": number})

        await self._writing.write(write, within_s)

    async def missed(self, frames: list[Frame]) -> None:
        """Write slots that passed without a release, each with its cause."""
        self._counts[FrameState.MISSED] += len(frames)
        self.last = frames[-1]
        self._remember(frames)
        if await self._leaves_out(frames[0], frames[-1]):
            return
        within_s = None if len(frames) < MANY else MANY_WITHIN_S
        await self._writing.write(lambda: self.store.add_missed(frames), within_s)
        for frame in frames[-50:]:
            self._hub.publish("frame", frame)

    def _remember(self, missed: Iterable[Frame]) -> None:
        """What passed while the rig was off is no fault of camera or pace: it is counted apart."""
        for frame in missed:
            if frame.cause == NOT_RUNNING:
                self.off += 1
            else:
                self.lately_missed.append(frame)

    async def change(self, seq: int, **fields: Any) -> Frame | None:
        """Write what became known of frame `seq`; None where the book does not hold it."""
        frame = self.frames.get(seq)
        if frame is None:
            return None
        before = frame.state
        off = before is FrameState.MISSED and frame.cause == NOT_RUNNING
        frame = frame.but(fields)
        self.frames[seq] = frame
        if frame.state is not before:
            self._counts[before] -= 1
            self._counts[frame.state] += 1
            self.off -= off
        if frame.state is FrameState.MISSED:
            self._remember([frame])
        if FrameState.LOST in (before, frame.state):
            rest = (other for other in self.lately_lost if other.seq != seq)
            self.lately_lost = deque(rest, REMEMBERED)
            if frame.state is FrameState.LOST:
                self.lately_lost.append(frame)
        if frame.state is not FrameState.DUE and (self.last is None or seq >= self.last.seq):
            self.last = frame
        camera = frame.camera
        if seq not in self._unlogged:
            await self._writing.write(lambda: self.store.change_frame(self.shoot, seq, camera, **fields))
        frame = self.frames.get(seq, frame)
        if frame.state is not FrameState.DUE:
            self._hub.publish("frame", frame)
        return frame

    async def withdraw(self, seq: int) -> None:
        """Take back the intent to release a slot: it is no longer due."""
        frame = self.frames.pop(seq)
        self._counts[FrameState.DUE] -= 1
        if seq in self._unlogged:
            self._unlogged.discard(seq)
        else:
            await self._writing.write(lambda: self.store.withdraw(self.shoot, seq, frame.camera))

    async def _leaves_out(self, first: Frame, last: Frame | None = None) -> bool:
        """Whether slots get no row, since the log has taken nothing for so long that there is no room to keep more of
        them; noted where that begins and ends. Their frames are on the card."""
        before = self._left_out
        if not self._writing.full:
            if before is not None:
                self._left_out = None
                text = f"rows are kept again; slots {before[0]} to {before[1]} have none: look at the card"
                await self.note("slots-unlogged", text, first.due_utc, first_seq=before[0], last_seq=before[1])
            return False
        self._left_out = (first.seq if before is None else before[0], (last or first).seq)
        if before is None:
            text = f"from slot {first.seq} on no rows are kept until the log can be written; frames go on, to the card"
            await self.note("slots-unlogged", text, first.due_utc, first_seq=first.seq)
        return True

    async def unfetched(self, start: int, limit: int, every: int) -> list[Frame]:
        """The first `limit` frames from slot `start` on that are on the card only, of every so manyth slot."""
        await self._writing.settled()
        return await self.store.unfetched(self.shoot, start, limit, every, self.camera)

    async def unnamed(self, paths: Collection[str]) -> set[str]:
        """Those of a card's files that are no slot's."""
        await self._writing.settled()
        return await self.store.unnamed(self.shoot, paths, self.camera)

    def take_up(self, frame: Frame) -> None:
        """More is expected of a frame of the log."""
        self.frames.setdefault(frame.seq, frame)

    async def recall(self, seq: int) -> Frame | None:
        """A frame of which nothing more was expected, from the log; None where the log has none."""
        await self._writing.settled()
        rows = await self.store.frames(self.shoot, seq - 1, 1, self.camera)
        if not rows or rows[0].seq != seq:
            return None
        return self.frames.setdefault(seq, rows[0])

    def forget(self, seq: int) -> None:
        """Nothing more is expected of this frame."""
        self.frames.pop(seq, None)
        self._unlogged.discard(seq)

    async def note(self, kind: str, text: str, utc: float, **facts: Any) -> None:
        """Write something that happened, and tell listeners."""
        if self._place and kind in OF_THE_SHOOT:
            return
        if self._place is not None and kind not in OF_THE_SHOOT:
            text = f"{self.camera}: {text}"
        if self.camera != FIRST_CAMERA:
            facts["camera"] = self.camera
        note = Note(utc=utc, shoot=self.shoot, kind=kind, text=text, facts=facts)
        code = facts.get("code") or facts.get("check")
        told = {"shoot": self.shoot, "camera": facts.get("camera", self.camera), "kind": kind, "code": code}
        level = logging.WARNING if kind == OF_HEALTH[0] else logging.INFO
        log.log(level, "%s: %s: %s", self.shoot, kind, text, extra={"duskhand": told})
        await self._writing.write(lambda: self.store.note(note))
        self._hub.publish("note", note)

    async def baseline(self) -> str | None:
        """The last file on the card that was there before the shoot, or that notes name as no slot's.

        None where it was not noted yet.
        """
        await self._writing.settled()
        notes = self._mine(await self.store.notes(self.shoot, kind="card-at-start"))
        if not notes:
            return None
        return max([str(notes[-1].facts["last_file"]), *await self.noted(*BESIDE)])

    async def noted(self, *kinds: str) -> list[str]:
        """Files that notes of these kinds name."""
        await self._writing.settled()
        notes = [note for kind in kinds for note in self._mine(await self.store.notes(self.shoot, kind=kind))]
        return [str(file) for note in notes for file in note.facts.get("files", ())]

    async def changed_after(self, utc: float) -> dict[str, Any] | None:
        """What was in force until the first change of pace or light after a moment; None where none came."""
        await self._writing.settled()
        notes = await self.store.notes(self.shoot, kind="changed")
        return next((note.facts.get("before") for note in notes if note.utc > utc), None)

    def _mine(self, notes: list[Note]) -> list[Note]:
        return [note for note in notes if note.facts.get("camera", FIRST_CAMERA) == self.camera]

    async def done_since(self, utc: float) -> int:
        """Frames that were released for slots from `utc` on: looked for from the last one back, so that a start in the
        middle of a window takes no longer after months."""
        await self._writing.settled()
        done, upto = 0, 0 if self.last is None else self.last.seq
        while upto > 0:
            rows = await self.store.frames(self.shoot, max(0, upto - PAGE), PAGE, self.camera)
            since = [row for row in rows if row.seq <= upto and row.due_utc >= utc]
            if rows and not since:
                break
            done += sum(row.state not in (FrameState.MISSED, FrameState.LOST) for row in since)
            upto -= PAGE
        return done

    async def rows_since(self, seq: int, *, named: bool = False) -> list[Frame]:
        """The log's rows from a few before slot `seq` on; `named`: only those that have a name on the card, for after
        an outage there are slots by the ten thousand that have none."""
        return [row async for page in self.pages(max(0, seq - 100), named=named) for row in page]

    async def pages(self, after: int, *, named: bool = False) -> AsyncIterator[list[Frame]]:
        """The log's rows beyond slot `after`, a page at a time."""
        await self._writing.settled()
        while rows := await self.store.frames(self.shoot, after, PAGE, self.camera, named=named):
            yield rows
            after = rows[-1].seq

    async def save_shoot(self, **fields: Any) -> None:
        """Write fields of the shoot itself."""
        if not self._place:
            await self._writing.write(lambda: self.store.change_shoot(self.shoot, **fields))

    async def close(self) -> None:
        """Wait a moment for what is still to be written."""
        await self._writing.close()
