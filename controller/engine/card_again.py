"""Rows that were made anew, and the card: which files are theirs, as far as that is certain; the others are told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from controller.engine.anew import FROM_PICTURE, NOTE
from controller.engine.passed import nearest
from controller.engine.reconcile import Shot, clock_offset_s, shots
from controller.words.documents import Frame

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

LOOKED_AT = 5000
"""Of the last rows; what is older than that is told as files."""

ZONE_S = 14 * 3600.0
"""A camera's clock may stand in any zone."""


def known_again(rows: Sequence[Frame], found: Sequence[Shot]) -> dict[int, Shot]:
    """Shots by the slots that are theirs.

    A copy and a file of the same size, which no others have, are the same; from those the camera's clock is known, and
    by it the files of slots of which there is a small picture only. Where no copy tells the clock, none is claimed.
    """
    sizes = Counter(sum(file.size for file in shot.files) for shot in found)
    copies = Counter(row.bytes for row in rows if row.bytes)
    by_size = {sum(file.size for file in shot.files): shot for shot in found}
    sure = {
        row.seq: by_size[row.bytes] for row in rows if row.bytes and copies[row.bytes] == 1 and sizes[row.bytes] == 1
    }
    ordered = [sure[seq].paths[0] for seq in sorted(sure)]
    if ordered != sorted(ordered):  # by chance of the same size: then nothing is certain
        return {}
    files = [file for shot in found for file in shot.files]
    named = [row.but({"camera_file": sure[row.seq].paths[0]}) for row in rows if row.seq in sure]
    offset_s = clock_offset_s(named, files)
    if offset_s is None:
        return sure
    taken = {path for shot in sure.values() for path in shot.paths}
    rest = [shot for shot in found if shot.paths[0] not in taken]
    others = [row for row in rows if row.seq not in sure]
    more = nearest(others, rest, offset_s)
    return sure | {seq: shot for seq, shot in more.items() if _between(seq, shot, sure)}


def _between(seq: int, shot: Shot, sure: dict[int, Shot]) -> bool:
    """Whether a shot stands among those that are certain as its slot does."""
    return all((shot.paths[0] < other.paths[0]) == (seq < number) for number, other in sure.items())


async def name_again(run: ShootRun) -> None:
    """Give rows that were made anew their files on the card, and tell of those that are new and of no row."""
    if not await run.book.store.notes(run.shoot.id, kind=NOTE, limit=1):
        return
    last = run.book.last
    rows = await run.book.rows_since(max(0, last.seq - LOOKED_AT)) if last is not None else []
    lacking = [row for row in rows if row.cause == FROM_PICTURE and row.camera_file is None]
    if not lacking:
        return
    files = await run.camera.files()
    known = {path for row in rows for path in (row.camera_file, row.companion_file) if path}
    since = run.shoot.created_utc - ZONE_S
    found = [shot for shot in shots(files, known, None) if (shot.mtime_utc or since) >= since]
    matched = known_again(lacking, found)
    for seq, shot in matched.items():
        paths = {"camera_file": shot.paths[0], "companion_file": shot.paths[1] if len(shot.paths) > 1 else None}
        await run.book.store.change_frame(run.shoot.id, seq, run.camera.id, **paths)
    claimed = {path for shot in matched.values() for path in shot.paths}
    rest = [path for shot in found for path in shot.paths if path not in claimed]
    if rest:
        names = ", ".join(PurePosixPath(path).name for path in rest[:20]) + (" …" if len(rest) > 20 else "")
        text = f"{len(rest)} files on the card whose rows were lost, or that were there before: {names}"
        await run.book.note("unknown-files", text, run.clock.utc(), files=rest)
