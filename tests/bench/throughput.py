"""How many frames a second the camera process gets through, beside a bare loop of the same libgphoto2 calls.

`python -m tests.bench.throughput [FRAMES] [ROUNDS]`: set ISO, release at the shortest time, hear of the file. The
simulated camera exposes, reads out and writes in next to no time; orders are due a little faster than the bare loop
comes to them, so that the camera process never waits for one. Where other work leaves it no moment to listen in, it
finds the files by a look at the card, seconds later: that is counted. Both run in turns, so that what else the machine
does meanwhile falls on both.
"""

from __future__ import annotations

import asyncio
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from controller.camera.messages import Missed, Released, Written
from controller.words.stops import true_iso
from tests.bench.frame_overhead import bare
from tests.bench.rigs import machine, ratio
from tests.camera.ear import connected, order
from tests.support.simcam import start_simulated_camera

SHORTEST = "1/8000"


async def ours(address: str, frames: int, spacing_s: float, directory: Path) -> tuple[float, int]:
    """Seconds a frame, and of how many the camera was not heard: a look at the card found them together."""
    async with connected(address) as (link, ear):
        first = time.monotonic() + 0.5
        for n in range(frames + 1):
            due, iso = first + n * 0.8 * spacing_s, true_iso(200 if n % 2 else 100)
            each = order(n, due, directory, latest_mono=due + 600, shutter_s=1 / 8000, iso=iso, fetch="none")
            await link.release(each)
        await ear.count(Written, frames + 1)
        assert not ear.of(Missed)
        heard = [each.at_mono for each in ear.of(Written).values()]
        return (max(heard) - ear.of(Released)[1].at_mono) / frames, len(heard) - len(set(heard))


def alone(address: str, frames: int) -> float:
    """Seconds a frame of the bare loop, in a process of its own."""
    command = [sys.executable, "-m", "tests.bench.throughput", "bare", address, str(frames)]
    return float(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def main(frames: int, rounds: int, directory: Path) -> None:
    rates, floors = [], []
    print(machine())
    for _ in range(rounds):
        with start_simulated_camera(directory / "bare", readout=0, write=0) as camera:
            bare_s = alone(camera.address, frames)
        with start_simulated_camera(directory / "ours", readout=0, write=0) as camera:
            ours_s, looked = asyncio.run(ours(camera.address, frames, bare_s, directory))
        rates.append(1 / ours_s)
        floors.append(1 / bare_s)
        print(f"bare loop {1 / bare_s:6.1f} frames/s   camera process {1 / ours_s:6.1f}   {ratio(bare_s, ours_s)}"
              f"{f', {looked} files found by a look' if looked else ''}")  # fmt: skip
    middle = median(rate / floor for rate, floor in zip(rates, floors, strict=True))
    print(f"median            {ratio(middle, 1.0)} (goal: at least 0.9)")


if __name__ == "__main__":
    if sys.argv[1:2] == ["bare"]:
        print(bare(sys.argv[2], int(sys.argv[3]), SHORTEST, pictures=False)[0])
    else:
        with tempfile.TemporaryDirectory() as directory:
            main(*(map(int, sys.argv[1:3] if len(sys.argv) > 2 else (200, 5))), Path(directory))
