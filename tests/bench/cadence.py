"""Does web traffic delay a release? Lateness under load, beside a bare process that sleeps to the same cadence.

`python -m tests.bench.cadence [FRAMES [MAKER]]`: 1 s interval, 20 event streams and 50 requests a second on `now`.
"""

from __future__ import annotations

import itertools
import json
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.bench.rigs import machine, percentile, plan, ratio
from tests.support.service import rig

STREAMS, REQUESTS_PER_S = 20, 50


def main(frames: int, maker: str) -> None:
    with tempfile.TemporaryDirectory() as directory, rig(Path(directory), maker=maker) as (service, camera):
        python = [sys.executable, "-m"]
        seconds = str(frames + 3)
        clients = subprocess.Popen(
            [*python, "tests.bench.clients", service.url, str(STREAMS), str(REQUESTS_PER_S), seconds],
            stdout=subprocess.PIPE,
        )
        floor = subprocess.Popen([*python, "tests.bench.sleeper", "1.0", str(frames)], stdout=subprocess.PIPE)
        shoot = service.shoot(plan("cadence", 1.0, 0.1, frames))
        service.wait_for_end(shoot)
        rows = service.frames(shoot)
        bare = [float(ms) for ms in json.loads(floor.communicate()[0])]
        load = json.loads(clients.communicate()[0])
        record = camera.record()
    late = [row["late_ms"] for row in rows if row["released_utc"]]
    seen = [shot["released_mono"] for shot in record]
    steps = [b - a for a, b in itertools.pairwise(seen)]
    first, last = late[: len(late) // 5], late[-len(late) // 5 :]
    high, floor_high = percentile(late, 0.99), percentile(bare, 0.99)
    print(machine())
    print(f"camera            {maker}")
    print(f"frames            {len(late)} of {frames}, missed {sum(row['state'] == 'missed' for row in rows)}")
    print(f"load              {load}")
    print(f"bare sleeper      p50 {percentile(bare, 0.5):.3f} ms, p99 {floor_high:.3f} ms")
    print(f"release           p50 {percentile(late, 0.5):.3f} ms, p99 {high:.3f} ms, max {max(late):.3f} ms")
    print(f"p99 above floor   {high - floor_high:+.3f} ms (goal: at most 3), {ratio(high, floor_high)}")
    print(f"drift             {sum(last) / len(last) - sum(first) / len(first):+.3f} ms, last fifth against first")
    mean = sum(steps) / len(steps) * 1000
    print(f"seen by camera    interval {min(steps) * 1000:.2f} … {max(steps) * 1000:.2f} ms, mean {mean:.3f} ms")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300, sys.argv[2] if len(sys.argv) > 2 else "generic")
