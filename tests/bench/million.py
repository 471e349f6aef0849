"""A million frames through the engine and the real log: memory, bytes a frame, and how fast the log answers.

`python -m tests.bench.million [FRAMES]` shoots an endless plan on a clock that needs no waiting: engine, book and event
stream are those of the daemon, the log is SQLite on disk (many jobs a commit and no fsync, since nothing here is about
the disk), the camera is the model of rehearsals, which keeps a few files only. What stood after a thousand frames is
printed beside what stands in the end.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from controller.rehearsal.picture import reading
from controller.store import schema
from tests.bench.rigs import machine, ratio, resident_kb
from tests.support.endless import Endless

SAMPLES = 100


def main(frames: int) -> None:
    print(machine())
    for over in range(-14 * 256, 4 * 256):  # the model camera's table of pictures, so that filling it does not count
        reading(over / 256)
    floor = floor_ms()
    print(f"floor: a bare SELECT of 500 rows of one integer takes {floor:.3f} ms")
    with tempfile.TemporaryDirectory() as directory:
        rig = Endless(Path(directory), frames)
        memory: list[tuple[int, int]] = []
        first: dict[str, float] = {}
        last: dict[str, float] = {}
        began = time.perf_counter()

        def look(done: int) -> None:
            memory.append((done, resident_kb("self")))
            if not first:
                first.update(measured(rig, done))
            last.update(measured(rig, done))

        rig.every(look, first=1000, then=max(1000, frames // SAMPLES))
        rig.shoot()
        took_s = time.perf_counter() - began
        done = rig.done
        size = rig.bytes()
        print(f"{done:,} frames in {took_s:.0f} s, {took_s / done * 1000:.2f} ms a frame")
        print(f"database          {size / done:.0f} bytes a frame (goal: at most 400)")
        for name, before in first.items():
            print(
                f"{name:17s} {before:.3f} ms at 1,000 frames, {last[name]:.3f} ms now:"
                f" {last[name] / before:.2f} of then (goal: at most 2); {ratio(last[name], floor)}"
            )
        print(slope(memory))


def measured(rig: Endless, done: int) -> dict[str, float]:
    """Milliseconds of this thread's processor time, the least of many."""
    return {
        "now": least_ms(rig.now),
        "last 500 frames": least_ms(lambda: rig.page(done - 500)),
        "last frame": least_ms(rig.last),
        "counts": least_ms(rig.counts),
    }


def least_ms(work: Any, times: int = 30) -> float:
    best = float("inf")
    for _ in range(times):
        began = time.thread_time()
        work()
        best = min(best, time.thread_time() - began)
    return best * 1000


def floor_ms() -> float:
    connection = schema.sqlite3.connect(":memory:")
    connection.execute("CREATE TABLE t (a INTEGER PRIMARY KEY)")
    connection.executemany("INSERT INTO t VALUES (?)", [(i,) for i in range(500)])
    return least_ms(lambda: connection.execute("SELECT a FROM t").fetchall())


def slope(memory: list[tuple[int, int]]) -> str:
    """By least squares, with its standard error (from memory), over the last half: tables with bounds fill before."""
    frames, kb = np.array(memory[len(memory) // 2 :], float).T
    (a, _), cov = np.polyfit(frames, kb, 1, cov=True)
    error = float(np.sqrt(cov[0, 0]))
    each, least = a * 1024, error * 1024
    return (
        f"memory            {memory[0][1] / 1024:.1f} MB at 1,000 frames, {kb[-1] / 1024:.1f} MB now; "
        f"{each:+.2f} ± {least:.2f} bytes a frame"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
