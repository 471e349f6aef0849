"""Half a second from release to release, a fifth of a second exposed, for ten minutes: is every frame there?

`python -m tests.bench.half_second [FRAMES]` counts frames in the log, on the card and in the camera's own record.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.bench.rigs import machine, percentile, plan, ratio
from tests.support.service import rig


def main(frames: int) -> None:
    with tempfile.TemporaryDirectory() as directory, rig(Path(directory)) as (service, camera):
        sleeper = [sys.executable, "-m", "tests.bench.sleeper", "0.5", str(frames)]
        floor = subprocess.Popen(sleeper, stdout=subprocess.PIPE)
        shoot = service.shoot(plan("half-second", 0.5, 0.2, frames))
        service.wait_for_end(shoot)
        bare = json.loads(floor.communicate()[0])
        rows = service.frames(shoot)
        record = camera.record()
        on_card = len(list(camera.card.rglob("*.JPG")))
    late = [row["late_ms"] for row in rows if row["released_utc"]]
    pictured = sum(row["preview"] for row in rows)
    written = sum(row["state"] in ("written", "fetched") for row in rows)
    print(machine())
    print(f"log               {written} of {frames} written, {pictured} with a preview")
    print(f"missed            {[(row['seq'], row['cause']) for row in rows if row['state'] == 'missed']}")
    print(f"camera            {len(record)} exposures by its own record, {on_card} files on its card")
    high, floor_high = percentile(late, 0.99), percentile(bare, 0.99)
    print(f"bare sleeper      p50 {percentile(bare, 0.5):.3f} ms, p99 {floor_high:.3f} ms")
    print(f"lateness          p50 {percentile(late, 0.5):.3f} ms, p99 {high:.3f} ms, {ratio(high, floor_high)}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1200)
