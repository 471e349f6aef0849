"""The film of a window, or of a whole shoot: in a process of its own, on one processor, after everything else."""

from __future__ import annotations

import asyncio
import contextlib
import json
import sys
import time
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

from controller.results.clip.make import make_clip
from controller.results.clip.options import ClipOptions
from controller.results.intervals import one_each
from controller.results.series.asked import FramesAsked
from controller.results.series.film import film_of
from controller.store import Store
from controller.store.files import database_path, write_atomic
from controller.store.frame_pages import Page
from controller.words.clips import SMALL_FRAMES, ClipForm, first_of
from controller.words.documents import Frame, FrameState, Shoot
from controller.words.errors import BadInput, DuskhandError, StoreError
from controller.words.processes import step_back

_TOLD_EVERY_S = 0.5
_REMEDY = "Free some space on the rig's disk; it is tried again by itself"
_CHOOSING = 0.3  # of all the work: measuring every picture of the shoots, where that is asked
_EARLY_S, _LATE_S = 0.5, 0.002  # due times are rounded; a slot at a window's end is the next one's


class ClipDone(ClipForm):
    """What came of a film."""

    frames: int
    missing: int
    duration_s: float
    bytes: int
    remarks: list[str]


def work_out(task: dict[str, Any]) -> ClipDone:
    """Make the film that `task` tells of: a ClipRecord's fields, `directory`, `out`, `small` and `keep_work`.

    Signs of progress are lines before the answer. Raises BadInput, DuskhandError('clip-failed', 'clip-unfinished').
    """
    step_back()
    directory, options = Path(task["directory"]), ClipOptions.model_validate(task["options"])
    told_mono = 0.0

    def tell(share: float) -> None:
        nonlocal told_mono
        if time.monotonic() - told_mono >= _TOLD_EVERY_S:
            told_mono = time.monotonic()
            sys.stdout.write(json.dumps({"done": share}) + "\n")
            sys.stdout.flush()

    asked = FramesAsked.model_validate(task["asked"])
    before = _CHOOSING if asked.measured else 0.0

    def looked(done: int, of: int) -> None:
        tell(before * done / max(of, 1))

    shoot, frames, left_out = asyncio.run(shown(directory, task, asked, looked))
    if task["small"]:
        frames = small(shoot, frames)

    def progress(done: int, of: int) -> None:
        tell(before + (1 - before) * done / max(of, 1))

    out, keep_work = Path(task["out"]), task["keep_work"]
    try:
        came = make_clip(shoot, frames, directory, out, options, progress, keep_work=keep_work)
    except BadInput:
        raise
    except DuskhandError as error:  # whose remedy is for a command line
        raise DuskhandError(error.code, error.what, out.name, _REMEDY) from error
    if came.unfinished is not None:
        raise DuskhandError("clip-unfinished", came.unfinished, out.name, _REMEDY)
    came.remarks[:0] = left_out
    told = out.with_suffix(".json")  # beside the film, where the report looks for it
    with contextlib.suppress(
        StoreError, OSError
    ):  # there is a film all the same, and no figures rather than an old one's
        told.unlink(missing_ok=True)
        write_atomic(told, (came.model_dump_json(indent=2) + "\n").encode())
    return ClipDone(
        **{name: getattr(came, name) for name in ClipForm.model_fields},
        frames=came.frames,
        missing=sum(gap.slots for gap in came.gaps),
        duration_s=came.duration_s,
        bytes=came.bytes,
        remarks=first_of(came.remarks),
    )


def small(shoot: Shoot, frames: list[Frame]) -> list[Frame]:
    """What a small film shows: previews alone, thinned evenly to SMALL_FRAMES, the newest one always among them."""
    there = [frame for frame in one_each(shoot, frames) if frame.preview]
    shown = there[:: max(1, -(-len(there) // SMALL_FRAMES))]
    if there and shown[-1] is not there[-1]:
        shown.append(there[-1])
    return [frame.model_copy(update={"local_file": None}) for frame in shown]


async def shown(
    directory: Path, task: dict[str, Any], asked: FramesAsked, progress: Callable[[int, int], None]
) -> tuple[Shoot, list[Frame], list[str]]:
    """The frames that a film is to show, of which shoot, and for people what is not among them.

    Raises NotFound, BadInput.
    """
    async with await Store.open(database_path(directory), read_only=True) as store:
        shoot = await store.shoot(task["shoot"])
        if not asked.plain:
            shoots = [shoot, *[await store.shoot(name) for name in asked.shoots]]

            def rows(each: Shoot) -> AsyncIterator[list[Frame]]:
                return _rows(store, each, None, 0, None)

            return await film_of(asked.wanted(), shoots, rows, directory, task["camera"], progress)
        since, until = task["since_utc"], task["until_utc"]
        pages = _rows(store, shoot, task["camera"], task["after_seq"], task["last_seq"])
        return shoot, [row async for page in pages for row in page if _within(row, since, until)], []


async def _rows(
    store: Store, shoot: Shoot, camera: str | None, after: int, last: int | None
) -> AsyncIterator[list[Frame]]:
    """Slots of which it is known what came of them, a page at a time."""
    page = Page(after=after, before=2**62 if last is None else last + 1, camera=camera)
    while rows := await store.page(shoot.id, page):
        yield [row for row in rows if row.state is not FrameState.DUE]
        page = Page(after=rows[-1].seq, before=page.before, camera=page.camera)


def _within(row: Frame, since: float | None, until: float | None) -> bool:
    return (since is None or row.due_utc >= since - _EARLY_S) and (until is None or row.due_utc < until - _LATE_S)
