"""A body that sleeps between releases: is every one of them on time?

`python -m tests.bench.sleeping_body [FRAMES] [INTERVAL_S] [SLEEPS_AFTER_S] [WAKES_S]`: 30 frames at 60 s of a body that
dozes 30 s after its last work, whatever it is asked meanwhile, and takes 1.5 s to wake. Real time. The camera itself
counts how often a release found it asleep.
"""

from __future__ import annotations

import itertools
import sys
import tempfile
from datetime import datetime
from pathlib import Path

from tests.bench.rigs import machine, percentile, plan
from tests.support.service import rig


def main(frames: int = 30, interval_s: float = 60.0, after_s: float = 30.0, wake_s: float = 1.5) -> None:
    faults = f"doze({after_s:g},{wake_s:g})"
    with tempfile.TemporaryDirectory() as directory, rig(Path(directory), faults=faults) as (service, camera):
        shoot = service.shoot(plan("sleeping-body", interval_s, 0.2, frames))
        service.wait_for_end(shoot)
        rows = service.frames(shoot)
        woken = camera.control("sleep")["woken_by"]
        record = camera.record()
    taken = [row for row in rows if row["released_utc"]]
    late = [row["late_ms"] for row in taken]
    opened = [shot["released_mono"] for shot in record]
    apart = [b - a for a, b in itertools.pairwise(opened)]
    off = [shot - datetime.fromisoformat(row["due_utc"]).timestamp() for shot, row in zip(opened, taken, strict=True)]
    shutter = [1000 * (each - min(off)) for each in off]
    print(machine())
    print(f"body              asleep {after_s:g} s after its last work, {wake_s:g} s to wake; {interval_s:g} s apart")
    print(f"log               {sum(row['state'] in ('written', 'fetched') for row in rows)} of {frames} written")
    print(f"not taken         {[(row['seq'], row['state'], row['cause']) for row in rows if row['cause']]}")
    print(f"camera            {len(record)} exposures by its own record, woken by {woken}")
    p50, p99 = percentile(late, 0.5), percentile(late, 0.99)
    print(f"lateness          p50 {p50:.3f} ms, p99 {p99:.3f} ms, most {max(late):.3f} ms")
    p50, p99 = percentile(shutter, 0.5), percentile(shutter, 0.99)
    print(f"shutter opened    p50 {p50:.3f} ms, p99 {p99:.3f} ms later than at its earliest, by the camera's record")
    print(f"                  {min(apart):.4f} to {max(apart):.4f} s apart")


if __name__ == "__main__":
    main(*(int(sys.argv[1]),) if len(sys.argv) > 1 else (), *map(float, sys.argv[2:]))
