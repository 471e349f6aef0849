"""How soon frames come again after a loss, beside a bare process that starts and loads the same libraries.

`python -m tests.bench.back [ROUNDS]`: 1 s interval. The service is killed and started again; the camera process is
killed; the camera is away for 5 s. Counted from the start, the kill, or the camera's return to the next time that the
shutter opens, by the camera's own record.
"""

from __future__ import annotations

import os
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.bench.rigs import machine, plan, ratio
from tests.support.service import Service
from tests.support.simcam import SimulatedCamera, start_simulated_camera

AWAY_S = 5.0
FRAMES = 100_000  # more than are waited for


def next_frame_s(camera: SimulatedCamera, since_mono: float) -> float:
    """Seconds from a moment to the first exposure after it, waited for."""
    while not (record := camera.record()) or record[-1]["released_mono"] <= since_mono:
        time.sleep(0.02)
    return float(min(shot["released_mono"] for shot in record if shot["released_mono"] > since_mono)) - since_mono


def bare_start_s() -> float:
    begun = time.monotonic()
    subprocess.run([sys.executable, "-c", "import controller.daemon, api.server, gphoto2"], check=True)
    return time.monotonic() - begun


def service_killed(rig: list[Service], camera: SimulatedCamera, directory: Path) -> float:
    rig[0].kill()
    begun = time.monotonic()
    rig[0] = Service(directory / "rig", camera)
    return next_frame_s(camera, begun)


def process_killed(rig: list[Service], camera: SimulatedCamera, directory: Path) -> float:
    begun = time.monotonic()
    os.kill(rig[0].pids()[1], signal.SIGKILL)
    return next_frame_s(camera, begun)


def camera_away(rig: list[Service], camera: SimulatedCamera, directory: Path) -> float:
    camera.control("fault", word=f"gone({AWAY_S:g})")
    return next_frame_s(camera, time.monotonic() + AWAY_S)


LOSSES: dict[str, Callable[[list[Service], SimulatedCamera, Path], float]] = {
    "service killed and started": service_killed,
    "camera process killed": process_killed,
    "camera away for 5 s": camera_away,
}


def main(rounds: int, directory: Path) -> None:
    took: dict[str, list[float]] = {name: [] for name in LOSSES}
    with start_simulated_camera(directory) as camera:
        rig = [Service(directory / "rig", camera)]
        rig[0].wait_for_camera()
        rig[0].shoot(plan("losses", 1.0, 0.1, FRAMES))
        next_frame_s(camera, time.monotonic())
        for _ in range(rounds):
            for name, lose in LOSSES.items():
                took[name].append(lose(rig, camera, directory))
                for _ in range(3):  # in order again
                    next_frame_s(camera, time.monotonic())
        rig[0].stop()
    print(machine())
    bare = [bare_start_s() for _ in range(rounds)]
    for name, values in {"bare start": bare, **took}.items():
        middle_s = statistics.median(values)
        against = ratio(middle_s, statistics.median(bare))
        print(f"{name:27} median {middle_s:.2f} s  most {max(values):.2f} s  {against}")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as directory:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 5, Path(directory))
