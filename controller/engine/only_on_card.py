"""Frames of which only the card tells: the log's rows of their slots were lost, and so were their pictures.

Once the rig shoots again, its new frames tell the camera's clock. Rows that were made anew from pictures have the time
at which those reached the rig, and slots that passed before the rig shot again hang on the last of them: so files are
given to slots by that time, where there is any such row, and else by the end of exposures.
"""

from __future__ import annotations

import asyncio
import statistics
from collections.abc import Sequence
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from controller.engine.anew import FROM_PICTURE, NO_PICTURE
from controller.engine.card_again import in_order, name, on_card, rows_made_anew
from controller.engine.passed import NEAR_S, NOT_RUNNING, nearest
from controller.engine.reconcile import CLOCK_SLACK_S, Shot, clock_offset_s
from controller.store.files import preview_path
from controller.words.documents import Frame, FrameState

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

FROM_CARD = "made anew from its file on the card; its time is the planned one"

LOST = (FROM_PICTURE, NO_PICTURE)

TELLING = 50
"""Of the newest rows with a file, whose small pictures tell the camera's clock."""

TOLD = 20
"""How many files of no slot a note names in its text; its facts have all."""


async def claim_lost(run: ShootRun) -> None:
    """Give such frames to their slots, and tell of files on the card that are of none.

    Nothing where the shoot's log was never made anew. Raises CameraError, StoreError.
    """
    rows = await rows_made_anew(run)
    made = max((row.seq for row in rows if row.cause in LOST), default=0)
    new = next((row for row in rows if row.seq > made and row.camera_file is not None), None)
    lacking = {
        row.seq: row
        for row in rows
        if row.camera_file is None and (row.cause in LOST or (_passed(row) and (new is None or row.seq < new.seq)))
    }
    if not lacking:
        return
    beyond = None if new is None else new.camera_file  # is on its way to its slot
    found = [shot for shot in await on_card(run, rows) if beyond is None or shot.paths[0] < beyond]
    given = await _given(run, rows, list(lacking.values()), found)
    for seq, shot in given.items():
        await _claim(run, lacking[seq], shot)
    claimed = {path for shot in given.values() for path in shot.paths}
    await _tell(run, [path for shot in found for path in shot.paths if path not in claimed])


def _passed(row: Frame) -> bool:
    return row.state is FrameState.MISSED and row.cause == NOT_RUNNING


async def _given(run: ShootRun, rows: Sequence[Frame], slots: list[Frame], found: list[Shot]) -> dict[int, Shot]:
    named = {row.seq: row.camera_file for row in rows if row.camera_file}
    files = await run.camera.files()
    if any(row.cause == FROM_PICTURE for row in rows):
        offset_s = await asyncio.to_thread(_behind_pictures, run, rows, {file.path: file.mtime_utc for file in files})
        slots = [slot.but({"shutter_s": None}) for slot in slots]
    else:
        offset_s = clock_offset_s(rows, files)
    near_s = max(NEAR_S, min(CLOCK_SLACK_S, slots[0].interval_s / 3))
    return in_order(nearest(slots, found, offset_s, near_s), named)


def _behind_pictures(run: ShootRun, rows: Sequence[Frame], mtimes: dict[str, float | None]) -> float | None:
    """A file's time on the card minus that at which its picture reached the rig, seconds; None where none is known."""
    apart = []
    for row in [row for row in rows if row.camera_file][-TELLING:]:
        written = mtimes.get(row.camera_file or "")
        if written is None:
            continue
        if row.cause == FROM_PICTURE:
            apart.append(written - row.due_utc)
        elif (path := run.directory / preview_path(row.shoot, row.seq, row.camera)).is_file():
            apart.append(written - path.stat().st_mtime)
    return statistics.median(apart) if apart else None


async def _claim(run: ShootRun, row: Frame, shot: Shot) -> None:
    if row.state is FrameState.FETCHED:
        return await name(run, row.seq, shot)
    run.book.frames[row.seq] = row
    missed = row.state is FrameState.MISSED
    more: dict[str, object] = {"released_utc": row.due_utc, "cause": FROM_CARD} if missed else {}
    frame = await run.reports.on_card(row.seq, shot.paths, **more)
    if frame is not None:
        await run.reports.fetching.ask(frame)


async def _tell(run: ShootRun, paths: list[str]) -> None:
    """Files of no slot, each once."""
    notes = await run.book.store.notes(run.shoot.id, kind="unknown-files")
    told = {str(path) for note in notes for path in note.facts.get("files", ())}
    rest = [path for path in paths if path not in told]
    if rest:
        names = ", ".join(PurePosixPath(path).name for path in rest[:TOLD]) + (" …" if len(rest) > TOLD else "")
        text = f"{len(rest)} files on the card whose rows were lost, or that were there before: {names}"
        await run.book.note("unknown-files", text, run.clock.utc(), files=rest)
