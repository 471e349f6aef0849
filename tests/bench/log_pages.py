"""Pages of a frame log of a million rows: at its end, in its middle, by what went wrong, by pictures.

`python -m tests.bench.log_pages [FRAMES]` makes the log by SQL from one frame with all its readings and both names of a
pair; every thousandth slot was missed, every three hundredth is doubtful. A second log has nothing but missed slots.
Printed are the first answer and the least of fifteen, by the wall's clock, beside a floor: the rows themselves by
their numbers, without any choice. What the indexes take is told by SQLite's own table of pages.
"""

from __future__ import annotations

import asyncio
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from functools import partial
from pathlib import Path

from controller.store import Store, schema
from controller.store.frame_pages import Page, frames, troubles
from controller.words.documents import FrameTrouble
from tests.bench.rigs import machine, ratio
from tests.store.samples import CAMERA, SHOOT, due, outcome, shoot

MISSED = "UPDATE frames SET state = 'missed', cause = 'the camera was busy', preview = 0 WHERE seq % :each = 0"
DOUBTFUL = "UPDATE frames SET cause = 'the motion rig was moving' WHERE seq % 300 = 7"
INDEXES = ("frames_in_trouble", "frames_pictured")


async def first(path: Path) -> None:
    """A log with one frame, made as the rig makes it."""
    async with await Store.open(path) as store:
        await store.add_shoot(shoot())
        await store.intend(due(1))
        await store.change_frame(SHOOT, 1, CAMERA, **outcome(1))


def filled(path: Path, count: int, missed_each: int) -> sqlite3.Connection:
    """The log with `count` frames, of which every so manyth was missed."""
    asyncio.run(first(path))
    connection = schema.connect(path)
    connection.execute("PRAGMA synchronous = OFF")
    names = [row["name"] for row in connection.execute("PRAGMA table_info(frames)") if row["name"] not in ("id", "seq")]
    columns = ", ".join(names)
    connection.execute("BEGIN")
    connection.execute(
        f"INSERT INTO frames (seq, {columns}) WITH RECURSIVE n (i) AS (SELECT 2 UNION ALL SELECT i + 1 FROM n WHERE i <"
        f" {count}) SELECT i, {columns} FROM n, (SELECT * FROM frames WHERE seq = 1)"
    )
    connection.execute(MISSED, {"each": missed_each})
    if missed_each > 1:
        connection.execute(DOUBTFUL)
    connection.execute("COMMIT")
    return connection


def took_ms(work: Callable[[], object]) -> tuple[float, float]:
    """The first time, and the least."""
    times = []
    for _ in range(15):
        began = time.perf_counter()
        work()
        times.append((time.perf_counter() - began) * 1000)
    return times[0], min(times)


def pages(middle: int) -> Iterator[tuple[str, Page]]:
    """What is asked, by name."""
    yield "500, the newest", Page(newest=True)
    yield "500 below the middle", Page(before=middle, newest=True)
    yield "500 with pictures, newest", Page(newest=True, previews=True)
    yield "500 with pictures, middle", Page(before=middle, newest=True, previews=True)
    yield "50 with pictures, newest", Page(newest=True, previews=True, limit=50)
    yield "every thousandth", Page(every=1000)
    for trouble in FrameTrouble:
        yield f"500 {trouble}, newest", Page(newest=True, trouble=trouble)
        yield f"500 {trouble}, middle", Page(before=middle, newest=True, trouble=trouble)


def measure(connection: sqlite3.Connection, count: int) -> None:
    middle = count // 2
    numbers = ", ".join(str(number) for number in range(middle, middle + 500))
    rows = f"SELECT * FROM frame_log WHERE id IN ({numbers})"
    floor_ms = 0.0
    works: dict[str, Callable[[], object]] = {"floor: 500 rows, unread": lambda: connection.execute(rows).fetchall()}
    works |= {what: partial(frames, connection, SHOOT, page) for what, page in pages(middle)}
    works["how many in trouble"] = lambda: troubles(connection, SHOOT, None)
    for what, work in works.items():
        first_ms, least_ms = took_ms(work)
        floor_ms = floor_ms or least_ms
        print(f"{what:28} first {first_ms:7.1f} ms, least {least_ms:7.1f} ms, {ratio(least_ms, floor_ms)}")
    for index in INDEXES:
        size = connection.execute("SELECT sum(pgsize) FROM dbstat WHERE name = ?", (index,)).fetchone()[0]
        print(f"{index:28} {size / count:.1f} bytes a frame")


def main(count: int) -> None:
    print(machine())
    for name, each in (("every thousandth missed", 1000), ("all of them missed", 1)):
        with tempfile.TemporaryDirectory() as directory, closing(filled(Path(directory) / "log", count, each)) as log:
            print(f"\n{count:,} frames, {name}")
            measure(log, count)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
