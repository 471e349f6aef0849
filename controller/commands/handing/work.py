"""One pass through the log: each frame's pictures go to the folder, and every list gets its row meanwhile.

What is in memory does not grow with the shoot, but for eight bytes a name and the gains.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from pathlib import Path, PurePosixPath
from typing import Any

from controller.commands.handing.beside import Beside
from controller.commands.handing.lists import Lists
from controller.commands.handing.names import Names, frames_until, pictured
from controller.commands.handing.place import MARKER, Folder, NoRoom, NotSent, Sent, writing
from controller.engine.copying import files_of
from controller.results.handover import missing
from controller.results.handover.document import HandedOver
from controller.results.handover.safe import spelt
from controller.store import Store
from controller.words.documents import Frame, Shoot
from controller.words.layout import preview_path

NO_ROOM = "no room was left there"
_ROW_BYTES, _SIDECAR_BYTES = 1500, 4096
"""Held back for each slot: its rows in all lists; and for each gain: a sidecar, which takes a block of the disk."""

_LEAST_BYTES = 2 << 20
_REASONS = 200  # kinds of reasons that are counted apart


class HandOver:
    """`run` once."""

    def __init__(
        self,
        store: Store,
        shoot: Shoot,
        rig: Path,
        folder: Folder,
        names: Names,
        last_seq: int,
        *,
        files: bool,
        progress: Callable[[int, int], None],
    ) -> None:
        """`files`: pictures, too, not the lists alone."""
        self._store, self._shoot, self._rig, self._folder, self._names = store, shoot, rig, folder, names
        self._last_seq, self._files, self._progress = last_seq, files, progress
        self._full = False
        slots = sum(shoot.counts.model_dump().values())
        self._slots = slots
        self.made = HandedOver(shoot=shoot.id, where=folder.where, name=names.text, slots=0, frames=0)

    async def run(self) -> HandedOver:
        """Raises BadInput before anything is written, DuskhandError where the folder fails as a whole."""
        marker = json.dumps({"shoot": self._shoot.id, "name": self._names.text}, ensure_ascii=False, indent=1)
        text = marker.encode() + b"\n"
        beside = Beside(self._store, self._shoot, self._rig, self._folder, self.made)
        room = _LEAST_BYTES + _ROW_BYTES * self._slots + _SIDECAR_BYTES * beside.gains
        await self._folder.open(text, room)
        if not self._files:
            await self._folder.room_again()  # lists are all that follows
        with writing(self._folder, MARKER):
            self._folder.part(MARKER).write_bytes(text)
        marked = await self._folder.put(MARKER)
        lists = Lists(self._folder, self.made.remarks.append)
        try:
            lists.sum(marked or "", MARKER)
            async for frame in frames_until(self._store, self._shoot, self._last_seq):
                await self._frame(frame, lists, beside)
                self._progress(self.made.slots, self._slots)
                if self.made.slots % 64 == 0:
                    await asyncio.sleep(0)  # where Ctrl-C comes in, as at every file
            await self._folder.room_again()
            names = await lists.close()
            await beside.close(names, lists.sum)
            await lists.close_sums()
        except BaseException:
            lists.abandon()
            raise
        return self.made

    async def _frame(self, frame: Frame, lists: Lists, beside: Beside) -> None:
        self.made.slots += 1
        beside.frame(frame)
        if not pictured(frame):
            self._miss(lists, frame, None, missing.why(frame))
            lists.row(frame)
            return
        self.made.frames += 1
        stem = self._names.stem(frame)
        files = files_of(frame)
        given = [stem + spelt(PurePosixPath(str(file["name"])).suffix) for file in files]
        there: list[str | None] = [None, None]
        if not files:
            self._miss(lists, frame, stem + spelt(PurePosixPath(frame.camera_file or "").suffix), missing.why(frame))
        elif self._files:
            for place, (name, file) in enumerate(zip(given, files, strict=True)):
                if await self._picture(lists, frame, name, file):
                    there[place] = name
        else:
            there = [*given, None][:2]
        small = await self._preview(lists, frame) if self._files and frame.preview and not any(there) else None
        lists.row(frame, there[0], there[1], small)
        if (sha256 := await beside.sidecar(frame, stem)) is not None:
            lists.sum(sha256, f"{stem}.xmp")

    async def _picture(self, lists: Lists, frame: Frame, name: str, file: dict[str, Any]) -> bool:
        """Whether it is in the folder, whole."""
        freed = missing.why(frame) if frame.rig_freed_utc is not None else None
        sent = await self._sent(lists, frame, name, file, freed)
        if sent is None:
            return False
        self.made.pictures += 1
        self.made.copied += sent.copied
        self.made.there += not sent.copied
        return True

    async def _preview(self, lists: Lists, frame: Frame) -> str | None:
        """The name that its small picture has in the folder: of this frame the rig has nothing else."""
        name = self._names.preview(frame)
        path = preview_path(frame.shoot, frame.seq, frame.camera)
        if await self._sent(lists, frame, name, {"name": str(path), "bytes": None, "sha256": None}) is None:
            return None
        self.made.previews += 1
        return name

    async def _sent(
        self, lists: Lists, frame: Frame, name: str, file: dict[str, Any], expected: str | None = None
    ) -> Sent | None:
        """A file that is in the folder, whole; where it is not, that is named. `expected`: why it may well not be."""
        told = {**file, "path": str(self._rig / str(file["name"]))}
        try:
            sent = await self._folder.picture(name, told, frame, send=not self._full)
        except NoRoom:
            if not self._full:
                self._full = True
                await self._folder.room_again()
            self._miss(lists, frame, name, NO_ROOM, failed=True)
            return None
        except NotSent as error:
            self._miss(lists, frame, name, expected or str(error), failed=expected is None)
            return None
        lists.sum(sent.sha256, name)
        return sent

    def _miss(self, lists: Lists, frame: Frame, file: str | None, why: str, *, failed: bool = False) -> None:
        lists.missing(frame, file, why)
        self.made.failed += failed
        self.made.only_on_card += why == missing.ON_CARD
        counted = self.made.missing
        why = missing.in_short(why)
        if why in counted or len(counted) < _REASONS:
            counted[why] = counted.get(why, 0) + 1
