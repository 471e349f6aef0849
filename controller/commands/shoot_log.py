"""What `shoots`, `frames`, `report` and `clip` share: the frame log of a directory, read beside a running daemon."""

from __future__ import annotations

import argparse
import asyncio
import difflib
import math
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from pathlib import Path
from shlex import quote
from typing import TypeVar

from controller.commands import add_directory
from controller.store import Store
from controller.store.files import database_path
from controller.words.documents import Frame, Shoot
from controller.words.errors import NotFound

T = TypeVar("T")
PAGE = 500


def add_shoot(parser: argparse.ArgumentParser) -> None:
    """The argument SHOOT and the option --dir."""
    parser.add_argument("shoot", metavar="SHOOT", help="id of a shoot, or last: the one that began last")
    add_directory(parser)


def add_camera(parser: argparse.ArgumentParser) -> None:
    """The option --camera."""
    parser.add_argument("--camera", metavar="NAME", help="of several cameras that one (default: of most frames)")


def read(directory: Path, job: Callable[[Store], Awaitable[T]]) -> T:
    """Run `job` on the frame log of a rig's directory, for reading. Raises NotFound, StoreError."""

    async def open_and_run() -> T:
        async with await Store.open(database_path(directory), read_only=True) as store:
            return await job(store)

    return asyncio.run(open_and_run())


async def find_shoot(store: Store, name: str) -> Shoot:
    """The shoot of this id, or for the word 'last' the one that began last; where none has, the newest. Raises
    NotFound."""
    shoots = await store.shoots()
    if name != "last":
        try:
            return await store.shoot(name)
        except NotFound as error:
            directory = quote(str(store.path.parent))
            error.remedy = _meant(name, shoots) or f"List them with `duskhand shoots --dir {directory}`"
            raise
    if not shoots:
        raise NotFound("no-such-shoot", "no shoot is in the log yet", str(store.path), "Start one first")
    return max(reversed(shoots), key=_begun_utc)


def _meant(name: str, shoots: Sequence[Shoot]) -> str | None:
    """A shoot of nearly this id, or the newest one of a plan of nearly this name."""
    known = {shoot.plan_name: shoot.id for shoot in shoots} | {shoot.id: shoot.id for shoot in shoots}
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.85)
    return f"Did you mean {known[near[0]]}?" if near else None


def _begun_utc(shoot: Shoot) -> float:
    """When it took its first frame, or should have; below all times where it waits for its evening."""
    if shoot.started_utc is not None:
        return shoot.started_utc
    due = sum(shoot.counts.model_dump().values())
    return (shoot.start_utc or shoot.created_utc) if due else -math.inf


async def pages(store: Store, shoot: Shoot, camera: str | None = None) -> AsyncIterator[list[Frame]]:
    """All slots of a shoot, or those of one camera, a page at a time."""
    after = 0
    while page := await store.frames(shoot.id, after=after, limit=PAGE, camera=camera):
        yield page
        after = page[-1].seq


async def all_frames(store: Store, shoot: Shoot) -> list[Frame]:
    return [frame async for page in pages(store, shoot) for frame in page]
