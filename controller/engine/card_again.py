"""Rows that were made anew, and the card: which files are theirs, as far as copies tell. See only_on_card.py."""

from __future__ import annotations

from bisect import bisect
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from controller.engine.anew import FROM_PICTURE, NOTE
from controller.engine.passed import LOOKED_AT, nearest
from controller.engine.reconcile import Shot, clock_offset_s, paths_of, shots
from controller.words.documents import Frame

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

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
    return sure | in_order(nearest(others, rest, offset_s), {seq: shot.paths[0] for seq, shot in sure.items()})


def in_order(given: Mapping[int, Shot], named: Mapping[int, str]) -> dict[int, Shot]:
    """Those that stand among the files of slots that have theirs (`named`, in order) as their slots do."""
    numbers = sorted(named)
    paths = ["", *(named[seq] for seq in numbers)]
    kept = {}
    for seq, shot in given.items():
        place = bisect(numbers, seq)
        if paths[place] < shot.paths[0] and (place == len(numbers) or shot.paths[0] < paths[place + 1]):
            kept[seq] = shot
    return kept


async def rows_made_anew(run: ShootRun) -> list[Frame]:
    """The last rows of a log that was made anew; none where it never was."""
    if (last := run.book.last) is None or not await run.book.store.notes(run.shoot.id, kind=NOTE, limit=1):
        return []
    return await run.book.rows_since(max(0, last.seq - LOOKED_AT))


async def on_card(run: ShootRun, rows: Sequence[Frame]) -> list[Shot]:
    """What is on the card since the shoot began, and of none of these rows."""
    known = paths_of(rows)
    since = run.shoot.created_utc - ZONE_S
    return [shot for shot in shots(await run.recovery.files(), known, None) if (shot.mtime_utc or since) >= since]


async def name_again(run: ShootRun) -> None:
    """Give rows that were made anew their files on the card, before the rig shoots again."""
    rows = await rows_made_anew(run)
    lacking = [row for row in rows if row.cause == FROM_PICTURE and row.camera_file is None]
    if lacking:
        for seq, shot in known_again(lacking, await on_card(run, rows)).items():
            await name(run, seq, shot)


async def name(run: ShootRun, seq: int, shot: Shot) -> None:
    paths = {"camera_file": shot.paths[0], "companion_file": shot.paths[1] if len(shot.paths) > 1 else None}
    await run.book.store.change_frame(run.shoot.id, seq, run.camera.id, **paths)
