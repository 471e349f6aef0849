"""What a film that is made beside costs a shoot: lateness and misses, without one and with one all the time.

`python -m tests.bench.films_beside [FRAMES]`: the real service, 2.5 s interval; the films are of the frames that a
first shoot fetched, asked for anew as each is done. Beside a bare process that sleeps to the same cadence.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

from tests.bench.rigs import machine, percentile, plan, ratio
from tests.support.service import Service, rig

INTERVAL_S = 2.5


def films(service: Service, shoot: str, over: threading.Event, made: list[dict[str, Any]]) -> None:
    """Keep the maker at work."""
    while not over.is_set():
        lines = service.get(f"/api/v1/shoots/{shoot}/clips")
        made[:] = [line for line in lines if line["state"] == "ready"]
        if sum(line["state"] in ("waiting", "making") for line in lines) < 3:
            service.post(f"/api/v1/shoots/{shoot}/clips", {"fps": 25})
        time.sleep(0.5)


def run(service: Service, name: str, frames: int) -> list[dict[str, Any]]:
    shoot = service.shoot(plan(name, INTERVAL_S, 0.1, frames))
    service.wait_for_end(shoot)
    return service.frames(shoot)


def told(what: str, rows: list[dict[str, Any]], floor_ms: float) -> None:
    late = [row["late_ms"] for row in rows if row["late_ms"] is not None]
    missed = sum(row["state"] == "missed" for row in rows)
    p50, p99 = percentile(late, 0.5), percentile(late, 0.99)
    print(f"{what:22} {len(rows)} slots, {missed} missed, p50 {p50:.3f} ms, p99 {p99:.3f} ms, max {max(late):.3f} ms,"
          f" p99's {ratio(p99, floor_ms)}")  # fmt: skip


def main(frames: int) -> None:
    print(machine())
    with tempfile.TemporaryDirectory() as directory, rig(Path(directory)) as (service, _):
        first = service.shoot(plan("first", 1.0, 0.1, 40, files={"fetch": "all"}))
        service.wait_for_end(first)
        sleeper = [sys.executable, "-m", "tests.bench.sleeper", str(INTERVAL_S), str(frames)]
        floor = subprocess.run(sleeper, stdout=subprocess.PIPE, check=True)
        bare = [float(ms) for ms in json.loads(floor.stdout)]
        floor_ms = percentile(bare, 0.99)
        print(f"{'bare sleeper':22} p50 {percentile(bare, 0.5):.3f} ms, p99 {floor_ms:.3f} ms")
        told("without a film", run(service, "without", frames), floor_ms)
        over, made = threading.Event(), []
        making = threading.Thread(target=films, args=(service, first, over, made))
        making.start()
        began = time.monotonic()
        rows = run(service, "with", frames)
        seconds = time.monotonic() - began
        over.set()
        making.join()
        told("with films all the time", rows, floor_ms)
        shown = sum(line["frames"] for line in made)
        print(f"meanwhile {len(made)} films of {shown} frames were made in {seconds:.0f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
