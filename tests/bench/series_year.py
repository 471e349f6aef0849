"""A year at five minutes, 105,120 rows: how long it takes to choose a film's frames, and in how much memory.

`python -m tests.bench.series_year [MEASURED]`: one frame a day from a tenth of the rows and from all of them, then the
best of each hour without fog and night, with so many small pictures measured (20 drawn ones under many names). Beside
the same pages read and let go.
"""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from controller.commands.shoot_log import pages
from controller.decide.sun import position
from controller.results.series.choose import choose
from controller.results.series.wanted import HourBest, Wanted, series_of
from controller.store import Store
from controller.store.files import database_path
from controller.words.documents import Frame, FrameState
from controller.words.layout import preview_path
from tests.bench.rigs import machine, ratio
from tests.results.dusk import shoot as shoot_of
from tests.results.scenes import DAY_EV, save, scene

SHOOT, SITE = "2026-01-01-hall", {"latitude": 52.1, "longitude": 5.2, "timezone": "Europe/Amsterdam"}
FROM_UTC, INTERVAL_S = 1_767_225_600.0, 300.0


async def fill(directory: Path, count: int, pictured: int) -> None:
    """Rows; every row's picture is there, or those of the first `pictured` by day."""
    for number in range(20):
        save(directory / f"drawn-{number}.jpg", scene(number, fog=2.5 if number == 13 else 0.0))
    (directory / preview_path(SHOOT, 1)).parent.mkdir(parents=True)
    async with await Store.open(database_path(directory)) as store:
        await store.add_shoot(shoot_of([], id=SHOOT, plan={"name": "hall", "site": SITE}))
        batch = []
        for seq in range(1, count + 1):
            utc = FROM_UTC + INTERVAL_S * seq
            altitude, azimuth = position(SITE["latitude"], SITE["longitude"], utc)  # type: ignore[arg-type]
            there = seq <= pictured
            batch.append(
                Frame(
                    shoot=SHOOT, seq=seq, camera="camera-1", due_utc=utc, interval_s=INTERVAL_S, preview=there,
                    sun_altitude_deg=altitude, sun_azimuth_deg=azimuth, state=FrameState.WRITTEN,
                    exposure_ev=DAY_EV if altitude > -3 else 1.0,
                )
            )  # fmt: skip
            if there:
                os.link(directory / f"drawn-{seq * 7 % 20}.jpg", directory / preview_path(SHOOT, seq))
            if len(batch) == 2000 or seq == count:
                await store.add_missed(batch)
                batch.clear()


async def one(directory: Path, what: str) -> None:
    """In a process of its own, so that its memory is its own."""
    began = time.perf_counter()
    async with await Store.open(database_path(directory), read_only=True) as store:
        shoot = await store.shoot(SHOOT)
        rows = sum([len(page) async for page in pages(store, shoot)]) if what == "pages" else 0
        wanted = Wanted(HourBest(), frozenset({"fog", "night"})) if what == "hour-best" else Wanted(series_of(what)) \
            if what != "pages" else None  # fmt: skip
        if wanted is not None:
            choice = await choose(wanted, [shoot], lambda each: pages(store, each), directory, None)
            rows = len(choice.frames)
    told(what, time.perf_counter() - began, rows)


def told(what: str, seconds: float, rows: int) -> None:
    peak = int(Path("/proc/self/status").read_text().partition("VmHWM:")[2].split()[0]) / 1024
    print(f"  {what:18} {seconds:6.1f} s, {peak:6.1f} MB at most, {rows} frames\n{seconds}\n{peak}")


def main(measured: int) -> None:
    print(machine())
    for count, pictured in ((10_512, 10_512), (105_120, 105_120), (measured, measured)):
        with tempfile.TemporaryDirectory() as name:
            asyncio.run(fill(Path(name), count, pictured))
            print(f"{count:,} rows", flush=True)
            cases = (
                ("pages", "hour-best") if count == measured else ("pages", "sun-azimuth=180", "sun-altitude=12,morning")
            )
            floor: list[float] = []
            for what in cases:
                command = [sys.executable, "-m", "tests.bench.series_year", name, what]
                line, *figures = subprocess.run(command, check=True, capture_output=True, text=True).stdout.splitlines()
                seconds, peak_mb = map(float, figures)
                floor = floor or [seconds, peak_mb]
                print(f"{line}, time {ratio(seconds, floor[0])}, memory {ratio(peak_mb, floor[1])}", flush=True)


if __name__ == "__main__":
    if len(sys.argv) > 2:
        asyncio.run(one(Path(sys.argv[1]), sys.argv[2]))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000)
