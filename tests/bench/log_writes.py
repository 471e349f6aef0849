"""What a frame costs the log, beside bare inserts of SQLite on the same disk.

`python -m tests.bench.log_writes [FRAMES]` (500): each frame as the engine writes it, intent and then three outcomes
one after the other, each on the disk before the next. The floor is as many commits of one bare insert each, of as many
bytes as such a row has, by Python's own sqlite3 with the same settings (WAL, synchronous = FULL), in turns with ours.
Then missed slots, a hundred to a commit, beside bare inserts in as many commits. Printed is the least of five rounds.
"""

from __future__ import annotations

import asyncio
import sqlite3
import sys
import tempfile
import time
from collections.abc import Awaitable, Sequence
from contextlib import closing
from pathlib import Path

from controller.store import Store
from controller.words.documents import FrameState
from tests.bench.rigs import machine, ratio
from tests.store.samples import CAMERA, SHOOT, due, outcome, shoot

ROUNDS, WRITES, TOGETHER = 5, 4, 100
ROW_BYTES = 267
"""Of a row in the log's own file, as `tests.bench.million` found it."""

TOLD = {
    FrameState.RELEASED: ("released_utc", "late_ms"),
    FrameState.WRITTEN: ("camera_file", "companion_file"),
}
"""What becomes known before a frame is fetched, and all is."""


def bare(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("CREATE TABLE rows (id INTEGER PRIMARY KEY, told BLOB)")
    return connection


async def inserted(connection: sqlite3.Connection, commits: int, rows: int) -> None:
    """The floor."""
    for _ in range(commits):
        connection.execute("BEGIN")
        for _ in range(rows):
            connection.execute("INSERT INTO rows (told) VALUES (?)", (bytes(ROW_BYTES),))
        connection.execute("COMMIT")


async def shot(store: Store, slots: range) -> None:
    for seq in slots:
        await store.intend(due(seq))
        known = outcome(seq)
        for state, keys in TOLD.items():
            await store.change_frame(SHOOT, seq, CAMERA, state=state, **{key: known[key] for key in keys})
        await store.change_frame(SHOOT, seq, CAMERA, **known)


async def missed(store: Store, slots: range) -> None:
    for first in slots[::TOGETHER]:
        part = range(first, first + TOGETHER)
        await store.add_missed([due(seq, state=FrameState.MISSED, cause="the camera was busy") for seq in part])


async def spent(work: Awaitable[None]) -> tuple[float, float]:
    """Milliseconds by the wall, and of the processor in all threads."""
    wall_s, work_s = time.perf_counter(), time.process_time()
    await work
    return 1000 * (time.perf_counter() - wall_s), 1000 * (time.process_time() - work_s)


def tell(what: str, ours: Sequence[tuple[float, float]], floors: Sequence[tuple[float, float]], slots: int) -> None:
    for kind, own, floor in zip(("by the wall", "of a processor"), zip(*ours), zip(*floors), strict=True):  # noqa: B905
        own_ms, floor_ms = min(own) / slots, min(floor) / slots
        print(f"{what:14} {own_ms:6.3f} ms {kind:14} floor {floor_ms:6.3f}, {ratio(own_ms, floor_ms)}")


async def main(frames: int, directory: Path) -> None:
    print(machine())
    each = frames // ROUNDS
    log, plain = directory / "frames.sqlite3", directory / "bare.sqlite3"
    async with await Store.open(log) as store:
        await store.add_shoot(shoot())
        with closing(bare(plain)) as connection:
            for what, write, commits, rows in (("a frame", shot, WRITES, 1), ("a missed slot", missed, 1, TOGETHER)):
                ours, floors = [], []
                for _ in range(ROUNDS):
                    last = await store.last_frame(SHOOT)
                    first = 1 if last is None else last.seq + 1
                    floors.append(await spent(inserted(connection, commits * each, rows)))
                    ours.append(await spent(write(store, range(first, first + each * rows))))
                tell(what, ours, floors, each * rows)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        asyncio.run(main(int(sys.argv[1]) if len(sys.argv) > 1 else 500, Path(name)))
