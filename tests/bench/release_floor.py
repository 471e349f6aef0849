"""How late the camera process releases, beside a bare process that sleeps to deadlines of the same cadence.

`python -m tests.bench.release_floor [FRAMES]`: 0.5 s interval, 0.2 s exposure, every frame set, previewed and fetched.
Lateness is from the deadline to the moment at which the call to libgphoto2 goes out.
"""

from __future__ import annotations

import asyncio
import itertools
import json
import sys
import tempfile
import time
from pathlib import Path

from controller.camera.messages import Fetched, Missed, Released
from controller.words.stops import true_iso
from tests.bench.rigs import machine, percentile, ratio, resident_kb
from tests.camera.ear import connected, order, shoot
from tests.support.simcam import start_simulated_camera

INTERVAL_S = 0.5


async def main(frames: int, directory: Path) -> None:
    with start_simulated_camera(directory) as camera:
        async with connected(camera.address) as (link, ear):
            floor = await asyncio.create_subprocess_exec(
                *(sys.executable, "-m", "tests.bench.sleeper", str(INTERVAL_S), str(frames)),
                stdout=asyncio.subprocess.PIPE,
            )
            start = time.monotonic() + 0.3
            isos = [true_iso(n) for n in (100, 200, 400)]
            due = {n: start + n * INTERVAL_S for n in range(1, frames + 1)}
            await shoot(link, [order(n, at, directory / "rig", iso=isos[n % 3]) for n, at in due.items()])
            await ear.count(Fetched, frames)
            assert link._process is not None
            kilobytes = resident_kb(link._process.pid)
            bare = [float(ms) for ms in json.loads((await floor.communicate())[0])]
        seen = [shot["released_mono"] for shot in camera.record()]
    late = [(report.at_mono - due[report.seq]) * 1000 for report in ear.all(Released)]
    calls = [report.call_s * 1000 for report in ear.all(Released)]
    steps = [(b - a) * 1000 for a, b in itertools.pairwise(seen)]
    print(machine())
    print(f"frames          {len(late)} of {frames}, missed {len(ear.all(Missed))}")
    for name, values in (("bare sleeper", bare), ("release", late), ("call", calls)):
        print(
            f"{name:15} p50 {percentile(values, 0.5):.3f}  p99 {percentile(values, 0.99):.3f}  max {max(values):.3f} ms"
        )
    high, floor_high = percentile(late, 0.99), percentile(bare, 0.99)
    print(f"p99 above floor {high - floor_high:+.3f} ms, {ratio(high, floor_high)}")
    print(f"seen by camera  interval {min(steps):.2f} … {max(steps):.2f} ms")
    print(f"camera process  {kilobytes / 1024:.1f} MB resident")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as directory:
        asyncio.run(main(int(sys.argv[1]) if len(sys.argv) > 1 else 120, Path(directory)))
