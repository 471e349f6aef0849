"""After an end that was not in order: are copies as the log says, and what was left half written?"""

from __future__ import annotations

import asyncio
import hashlib
import logging
from pathlib import Path

from controller.store import Store, pictures
from controller.words.clock import Clock
from controller.words.documents import Frame, FrameState, Note

log = logging.getLogger(__name__)

SIZES, SUMS = 50, 3
"""Of how many of the last slots of a shoot the sizes of copies are compared, and of how many the checksums too: a cut
can have torn only what was on its way to the disk, and a start has no time to read a night's pictures."""


async def check_copies(store: Store, directory: Path, clock: Clock) -> None:
    """Before shoots under way are taken up: a copy that is not as the log says is noted, and fetched again.

    Raises StoreError.
    """
    for shoot in await store.open_shoots():
        last = await store.last_frame(shoot.id)
        rows = [] if last is None else await store.frames(shoot.id, max(0, last.seq - SIZES))
        copied = [row for row in rows if row.state is FrameState.FETCHED and row.rig_freed_utc is None]
        for number, row in enumerate(reversed(copied)):
            fault = await asyncio.to_thread(_fault, directory, row, number < SUMS)
            if fault is None:
                continue
            if row.card_freed_utc is not None:  # the card has it no more, and second places have it
                text = f"frame {row.seq}: {row.local_file} {fault}; copies: {row.copies or 'none'}"
                note = Note(utc=clock.utc(), shoot=shoot.id, kind="copy-damaged", text=text, facts={"seq": row.seq})
                await store.note(note)
                continue
            gone = {"local_file": None, "bytes": None, "sha256": None, "state": FrameState.WRITTEN}
            await store.change_frame(shoot.id, row.seq, row.camera, **gone)
            text = f"frame {row.seq}: {row.local_file} {fault}; it is fetched again where it is on the card"
            log.warning("%s: %s", shoot.id, text)
            facts = {"seq": row.seq, "camera": row.camera, "file": row.local_file}
            await store.note(Note(utc=clock.utc(), shoot=shoot.id, kind="copy-damaged", text=text, facts=facts))


def _fault(directory: Path, row: Frame, read: bool) -> str | None:
    path = directory / (row.local_file or "")
    try:
        if not path.is_file():
            return "is not on the disk"
        if row.companion_file is None and row.bytes is not None and path.stat().st_size != row.bytes:
            return f"has {path.stat().st_size} bytes instead of {row.bytes}"
        if read and row.sha256 is not None and hashlib.sha256(path.read_bytes()).hexdigest() != row.sha256:
            return "is not what was fetched, by its SHA-256"
    except OSError as error:  # the cut has torn the disk itself there
        return f"cannot be read: {error.strerror or error}"
    return None


async def tidy(store: Store, directory: Path, clock: Clock) -> None:
    """At the same time: what was left half written goes, and is noted. Raises StoreError."""
    for shoot in await store.open_shoots():
        gone: list[str] = []
        try:
            for camera in await asyncio.to_thread(pictures.cameras, directory, shoot.id):
                last = await store.last_frame(shoot.id, camera)
                seq = 0 if last is None else last.seq
                for path in await asyncio.to_thread(pictures.leftovers, directory, shoot.id, camera, seq, SIZES):
                    path.unlink()
                    gone.append(str(path.relative_to(directory)))
        except OSError as error:  # they are in nobody's way
            log.warning("%s: what was left half written stays: %s", shoot.id, error)
        if gone:
            text = f"half written when the rig ended, and removed: {', '.join(gone)}"
            note = Note(utc=clock.utc(), shoot=shoot.id, kind="left-over", text=text, facts={"files": gone})
            await store.note(note)
