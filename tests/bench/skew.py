"""Two cameras on the same deadlines: how far apart they release, beside two bare processes that sleep to deadlines.

`python -m tests.bench.skew [FRAMES]`: 1 s interval, 600 frames each; all four processes in the same run.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench.rigs import machine, percentile, plan, ratio
from tests.support.service import Service
from tests.support.simcam import start_simulated_camera


def main(frames: int, directory: Path) -> None:
    with (
        start_simulated_camera(directory / "one") as one,
        start_simulated_camera(directory / "two") as two,
        Service(directory / "rig", one, two) as service,
    ):
        service.wait_for_camera()
        command = [sys.executable, "-m", "tests.bench.sleeper", "1.0", str(frames), str(time.monotonic() + 3)]
        sleepers = [subprocess.Popen(command, stdout=subprocess.PIPE) for _ in range(2)]
        shoot = service.shoot(plan("skew", 1.0, 0.1, frames))
        service.wait_for_end(shoot)
        rows = service.frames(shoot)
        bare = [json.loads(sleeper.communicate()[0]) for sleeper in sleepers]
        taken = [len(camera.record()) for camera in (one, two)]
    apart = [abs(row["skew_ms"]) for row in rows if row["skew_ms"] is not None]
    floor = [abs(b - a) for a, b in zip(*bare, strict=True)]
    high, floor_high = percentile(apart, 0.99), percentile(floor, 0.99)
    print(machine())
    print(f"frames            {len(rows)} of {2 * frames}, missed {sum(row['state'] == 'missed' for row in rows)}")
    print(f"slots of both     {len(apart)}; in the cameras’ own records {taken} frames")
    print(f"two bare sleepers p50 {percentile(floor, 0.5):.3f} ms, p99 {floor_high:.3f} ms, most {max(floor):.3f} ms")
    print(f"two releases      p50 {percentile(apart, 0.5):.3f} ms, p99 {high:.3f} ms, most {max(apart):.3f} ms")
    print(f"p99 above floor   {high - floor_high:+.3f} ms (goal: at most 2), {ratio(high, floor_high)}")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as directory:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 600, Path(directory))
