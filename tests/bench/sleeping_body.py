"""A body that sleeps between releases: is every one of them on time?

`python -m tests.bench.sleeping_body [FRAMES] [INTERVAL_S] [SLEEPS_AFTER_S] [WAKES_S] [first]`: 30 frames at 60 s of a
body that dozes 30 s after its last work, whatever it is asked meanwhile, and takes 1.5 s to wake. Real time. The camera
itself counts how often a release found it asleep. A real body's shutter waits for no other program of the machine, the
simulated camera's does: beside it stands how late a bare process hears a word from another one, and `first` runs the
simulated camera before all other programs (real-time priority, as root).
"""

from __future__ import annotations

import itertools
import json
import os
import subprocess
import sys
import tempfile
from datetime import datetime
from pathlib import Path

from tests.bench.rigs import machine, percentile, plan, ratio
from tests.support.service import rig


def main(
    frames: int = 30, interval_s: float = 60.0, after_s: float = 30.0, wake_s: float = 1.5, first: bool = False
) -> None:
    faults = f"doze({after_s:g},{wake_s:g})"
    floor = subprocess.Popen(
        [sys.executable, "-m", "tests.bench.far_end", str(interval_s), str(frames)], stdout=subprocess.PIPE, text=True
    )
    with tempfile.TemporaryDirectory() as directory, rig(Path(directory), faults=faults) as (service, camera):
        for thread in Path(f"/proc/{camera.process.pid}/task").iterdir() if first else []:
            os.sched_setscheduler(int(thread.name), os.SCHED_FIFO, os.sched_param(1))
        shoot = service.shoot(plan("sleeping-body", interval_s, 0.2, frames))
        service.wait_for_end(shoot)
        rows = service.frames(shoot)
        woken = camera.control("sleep")["woken_by"]
        record = camera.record()
    far: list[float] = json.loads(floor.communicate()[0])
    taken = [row for row in rows if row["released_utc"]]
    late = [row["late_ms"] for row in taken]
    opened = [shot["released_mono"] for shot in record]
    apart = [b - a for a, b in itertools.pairwise(opened)]
    off = [shot - datetime.fromisoformat(row["due_utc"]).timestamp() for shot, row in zip(opened, taken, strict=True)]
    shutter = [1000 * (each - min(off)) for each in off]
    print(machine())
    print(f"camera            {'before all other programs' if first else 'a program like others'}")
    print(f"body              asleep {after_s:g} s after its last work, {wake_s:g} s to wake; {interval_s:g} s apart")
    print(f"log               {sum(row['state'] in ('written', 'fetched') for row in rows)} of {frames} written")
    print(f"not taken         {[(row['seq'], row['state'], row['cause']) for row in rows if row['cause']]}")
    print(f"camera            {len(record)} exposures by its own record, woken by {woken}")
    p50, p99 = percentile(late, 0.5), percentile(late, 0.99)
    print(f"lateness          p50 {p50:.3f} ms, p99 {p99:.3f} ms, most {max(late):.3f} ms")
    p50, p99 = percentile(shutter, 0.5), percentile(shutter, 0.99)
    print(f"shutter opened    p50 {p50:.3f} ms, p99 {p99:.3f} ms later than at its earliest, by the camera's record")
    print(f"                  {min(apart):.4f} to {max(apart):.4f} s apart; latest {_latest(shutter)} ms")
    floor_ms = percentile(far, 0.99)
    print(f"p99 beside floor  {ratio(percentile(shutter, 0.99), floor_ms)}")
    p50, p99 = percentile(far, 0.5), floor_ms
    print(f"bare word         p50 {p50:.3f} ms, p99 {p99:.3f} ms; latest {_latest(far)} ms; load {os.getloadavg()}")


def _latest(values: list[float]) -> str:
    return ", ".join(f"{value:.3f}" for value in sorted(values)[-3:])


if __name__ == "__main__":
    numbers = [float(word) for word in sys.argv[1:] if word != "first"]
    main(*map(int, numbers[:1]), *numbers[1:], first="first" in sys.argv)
