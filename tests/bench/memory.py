"""Resident memory of daemon and camera process over a shoot.

`python -m tests.bench.memory [FRAMES]` prints it every hundred frames, and its slope from frame 200 on.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.bench.frame_overhead import grown_kb
from tests.bench.rigs import machine, plan, ratio, resident_kb
from tests.support.service import rig


def main(frames: int) -> None:
    print(machine())
    samples: list[tuple[int, int]] = []
    with tempfile.TemporaryDirectory() as directory, rig(Path(directory)) as (service, _):
        shoot = service.shoot(plan("memory", 0.5, 0.1, frames, files={"fetch": "all"}))
        while (now := service.get(f"/api/v1/shoots/{shoot}"))["state"] not in ("done", "stopped", "failed"):
            counts = now["counts"]
            done = counts["released"] + counts["written"] + counts["fetched"]
            each = [resident_kb(pid) for pid in service.pids()]
            if not samples or done // 100 > samples[-1][0] // 100:
                print(f"{done:5d} frames: daemon {each[0] / 1024:.1f} MB, camera process {sum(each[1:]) / 1024:.1f} MB")
            samples.append((done, sum(each)))
            time.sleep(1)
        final = [resident_kb(pid) for pid in service.pids()]
    settled = np.array([sample for sample in samples if sample[0] >= 200], float)
    slope = np.polyfit(settled[:, 0], settled[:, 1], 1)[0]
    print(f"in the end        {sum(final) / 1024:.1f} MB together (goal: at most 150)")
    print(f"slope             {slope * 1000 / 1024:+.2f} MB a thousand frames, from frame 200 on")
    with tempfile.TemporaryDirectory() as directory:
        floor_kb = grown_kb(frames, Path(directory))
    print(f"bare loop         {floor_kb * 1000 / 1024:+.2f} MB a thousand frames, {ratio(slope, floor_kb)}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
