"""A frame log in memory, that gives rows away once their fate is known; it holds a few hundred however many there are.

Implements engine.log.Log, as far as the engine asks within one run.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Coroutine
from typing import Any, cast

from controller.engine.book import OPEN
from controller.engine.writing import Operation
from controller.store.tone_curves import BodyKey, ToneCurve
from controller.words.documents import Frame, FrameCounts, FrameState, Note, Shoot
from controller.words.errors import NotFound, StoreError

KEPT = 256
"""Rows behind the newest that are kept, for recovery asks for those before the frames that it looks for."""

NOTES_KEPT = 10_000

PATHS_KEPT = 1024
"""Files of rows given away whose names are kept: more than the model camera keeps on its card."""


class MemoryLog:
    """`on_frame` gets every row once, in the order of slots, as it was last known.

    The frames that the engine hands over are the rows: it goes on with copies of its own.
    """

    def __init__(self, shoot: Shoot, on_frame: Callable[[Frame], None]) -> None:
        self.shoot = shoot
        self.heard: list[Note] = []
        self._on_frame = on_frame
        self._rows: dict[int, Frame] = {}  # in the order of their numbers
        self._gone: deque[str] = deque(maxlen=PATHS_KEPT)  # files of rows that were given away
        self._ids = 0
        self._noted = 0

    # ---- what the engine writes

    async def change_shoot(self, shoot: str, **fields: Any) -> Shoot:
        self.shoot = self.shoot.model_copy(update=fields)
        return self.shoot

    async def intend(self, frame: Frame) -> int:
        return self._add(frame)

    async def add_missed(self, missed: list[Frame]) -> list[int]:
        return [self._add(frame) for frame in missed]

    async def change_frame(self, shoot: str, seq: int, camera: str, **fields: Any) -> Frame:
        row = self._rows.get(seq)
        if row is None:
            raise NotFound("no-such-frame", "this frame is not in the log", f"{shoot}, frame {seq}, {camera}")
        row.__dict__.update(fields)
        return row

    async def withdraw(self, shoot: str, seq: int, camera: str) -> None:
        del self._rows[seq]

    async def note(self, note: Note) -> Note:
        self._noted += 1
        if len(self.heard) < NOTES_KEPT:
            self.heard.append(note.model_copy(update={"id": self._noted}))
        return note

    def _add(self, frame: Frame) -> int:
        self._ids += 1
        self._rows[frame.seq] = frame
        frame.__dict__["id"] = self._ids
        while len(self._rows) > KEPT:
            first = next(iter(self._rows))
            if self._rows[first].state in OPEN:
                break  # its fate comes yet, and the rows after it wait
            row = self._rows.pop(first)
            self._gone += [path for path in (row.camera_file, row.companion_file) if path is not None]
            self._on_frame(row)
        return self._ids

    def close(self) -> None:
        """Give the rest away."""
        for row in self._rows.values():
            if row.state is not FrameState.DUE:
                self._on_frame(row)
        self._rows.clear()

    # ---- what it reads

    async def counts(self, shoot: str, camera: str | None = None) -> FrameCounts:
        return self.shoot.counts

    async def frames(
        self, shoot: str, after: int = 0, limit: int = 500, camera: str | None = None, *, named: bool = False
    ) -> list[Frame]:
        known = (row for seq, row in self._rows.items() if seq > after and row.state is not FrameState.DUE)
        rows = (row for row in known if row.camera_file is not None or not named)
        return [row.model_copy() for row, _ in zip(rows, range(limit), strict=False)]

    async def last_frame(self, shoot: str, camera: str | None = None) -> Frame | None:
        return self._rows[max(self._rows)].model_copy() if self._rows else None

    async def open_frames(self, shoot: str, camera: str | None = None) -> list[Frame]:
        return [row.model_copy() for row in self._rows.values() if row.state in OPEN]

    async def unfetched(
        self, shoot: str, start: int, limit: int, every: int = 1, camera: str | None = None
    ) -> list[Frame]:
        left = (row for row in self._rows.values() if row.state is FrameState.WRITTEN and row.seq >= start)
        return [row.model_copy() for row in left if row.seq % every == 0][:limit]

    async def unnamed(self, shoot: str, paths: Collection[str], camera: str) -> set[str]:
        kept = {path for row in self._rows.values() for path in (row.camera_file, row.companion_file)}
        return set(paths) - kept - set(self._gone)

    async def notes(self, shoot: str | None = None, limit: int = 200, kind: str | None = None) -> list[Note]:
        return [note for note in self.heard if kind is None or note.kind == kind][-limit:]

    # ---- tone curves: the model camera's is known

    async def put_curve(self, body: BodyKey, curve: ToneCurve) -> None: ...

    async def curve(self, body: BodyKey) -> ToneCurve | None:
        return None


class AtOnce:
    """Implements engine.writing.Writing for a log that does not keep anybody waiting."""

    trouble: StoreError | None = None
    full = False

    def write(self, operation: Operation, within_s: float | None = None) -> Coroutine[Any, Any, None]:
        return cast("Coroutine[Any, Any, None]", operation())

    async def settled(self) -> None: ...

    async def close(self) -> None: ...


class Deaf:
    """Nobody listens to a rehearsal; implements engine.log.Teller."""

    def publish(self, kind: str, document: object) -> None: ...
