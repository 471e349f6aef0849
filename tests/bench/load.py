"""What a rig takes of the machine while nothing is shot, at 5 s and at half a second; and how soon it is ready.

`python -m tests.bench.load [SECONDS]`: the service over the simulated camera, each pace for so many seconds (60), a
fixed exposure, every frame's picture fetched and metered. Processor time of the daemon and of its camera process, as
shares of one core, and their resident memory. The floors: a process that sleeps, and a bare loop of the same
libgphoto2 calls at the same pace. Ready is the line that says where it is served, from the start of its process; the
floor is a process that loads the same libraries.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from tests.bench.back import bare_start_s
from tests.bench.frame_overhead import bare
from tests.bench.rigs import machine, plan, ratio, resident_kb, used_s
from tests.support.service import Service
from tests.support.simcam import SimulatedCamera, start_simulated_camera

PACES = {5.0: 4.0, 0.5: 25.0}
"""Interval, seconds, and the share of a core that it may take at most, percent."""

IDLE_GOAL, MEMORY_GOAL_MB, READY_GOAL_S = 1.0, 120.0, 1.5
SETTLED_S = 10.0
STARTS = 5


def shares(pids: Sequence[int], seconds: float) -> list[float]:
    """Percent of one core that each takes over so many seconds."""
    before = [used_s(pid) for pid in pids]
    time.sleep(seconds)
    return [100 * (used_s(pid) - was) / seconds for pid, was in zip(pids, before, strict=True)]


def floor(camera: SimulatedCamera, interval_s: float, seconds: float) -> float:
    """The same of a bare process: a loop over libgphoto2, or sleep where there is no interval."""
    words = ["bare", camera.address, str(interval_s)] if interval_s else ["sleep"]
    process = subprocess.Popen([sys.executable, "-m", "tests.bench.load", *words])
    try:
        time.sleep(SETTLED_S)
        return shares([process.pid], seconds)[0]
    finally:
        process.kill()
        process.wait()


def tell(what: str, service: Service, seconds: float, bare_share: float, goal: float) -> None:
    pids = service.pids()
    each = shares(pids, seconds)
    megabytes = [resident_kb(pid) / 1024 for pid in pids]
    print(
        f"{what:17} {sum(each):5.2f} % of a core (goal: at most {goal:g}): daemon {each[0]:.2f}, camera process"
        f" {sum(each[1:]):.2f}; floor {bare_share:.2f}, {ratio(sum(each), bare_share)}."
        f" {sum(megabytes):.1f} MB (goal: at most {MEMORY_GOAL_MB:g}):"
        f" daemon {megabytes[0]:.1f}, camera process {sum(megabytes[1:]):.1f}",
        flush=True,
    )


def ready_s(directory: Path, camera: SimulatedCamera) -> float:
    begun = time.monotonic()
    with Service(directory / "start", camera):
        return time.monotonic() - begun


def main(seconds: float, directory: Path) -> None:
    print(machine())
    with start_simulated_camera(directory) as camera:
        floors = {interval_s: floor(camera, interval_s, seconds) for interval_s in (0.0, *PACES)}
        with Service(directory / "rig", camera) as service:
            service.wait_for_camera()
            time.sleep(SETTLED_S)
            tell("nothing is shot", service, seconds, floors[0.0], IDLE_GOAL)
            for interval_s, goal in PACES.items():
                shoot = service.shoot(plan("load", interval_s, min(0.2, interval_s / 5), 1_000_000))
                time.sleep(SETTLED_S)
                tell(f"{interval_s:g} s", service, seconds, floors[interval_s], goal)
                service.post(f"/api/v1/shoots/{shoot}/stop", {})
                service.wait_for_end(shoot)
        bare_s, starts = bare_start_s(), sorted(ready_s(directory, camera) for _ in range(STARTS))
        print(f"start to ready    {starts[STARTS // 2]:.2f} s, most {starts[-1]:.2f} (goal: at most {READY_GOAL_S:g});"
              f" floor {bare_s:.2f}, {ratio(starts[STARTS // 2], bare_s)}")  # fmt: skip


if __name__ == "__main__":
    if sys.argv[1:2] == ["bare"]:
        bare(sys.argv[2], 1_000_000, interval_s=float(sys.argv[3]))
    elif sys.argv[1:2] == ["sleep"]:
        time.sleep(86_400)
    else:
        with tempfile.TemporaryDirectory() as name:
            main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0, Path(name))
