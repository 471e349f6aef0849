"""Memory of a clip being made: flat, whatever the number of frames, and what each kind of film takes.

`python -m tests.bench.clip_memory [FRAMES [BIG [CORES]]] [--only h264-8] [--size 3840x2160]` makes steadied 1080p films
of BIG (100) pictures of 24 megapixels, of each codec and depth, then one of 2160p, then a 1080p film of FRAMES (10000)
small ones, each in a process of its own that takes the machine for one of CORES (as it is); --only makes one film of
BIG, of 1080p or of --size. It prints resident memory on the way, the peak, and the slope over the second pass. A
process that has only loaded what it needs is the floor of the same run.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tests.bench.clip_speed import HEIGHT, WIDTH, Landscape
from tests.bench.rigs import machine, ratio
from tests.results.dusk import SHOOT

KINDS: dict[str, dict[str, Any]] = {
    f"{codec}-{bits}": {"codec": codec, "bits": bits} for codec in ("h264", "hevc") for bits in (8, 10)
}
_DISTINCT = 12
_GOAL_MB = 400
_MADE = """
import json, os, sys
from pathlib import Path
if int(sys.argv[4]):
    os.cpu_count = lambda: int(sys.argv[4])
from controller.results.clip.make import make_clip
from controller.results.clip.options import clip_options
from tests.results.dusk import SHOOT, shoot
from tests.results.nights import row
directory, count = Path(sys.argv[1]), int(sys.argv[2])
def tell(done, of):
    now = dict(line.split(":") for line in open("/proc/self/status"))
    print(done, of, *(int(now[name].split()[0]) for name in ("VmRSS", "VmHWM")), flush=True)
def step(done, of):
    if done % max(of // 40, 1) == 0:
        tell(done, of)
name = f"shoots/{SHOOT}/"
slots = [row(seq, local_file=f"{name}{seq - 1:06d}.jpg", exposure_ev=-(seq // 5) / 3) for seq in range(1, count + 1)]
tell(0, 2 * count)
made = make_clip(shoot(slots), slots, directory, directory / "clip.mp4", clip_options(**json.loads(sys.argv[3])), step)
assert made.frames == count, made
tell(2 * count, 2 * count)
"""


@dataclass(frozen=True)
class Sample:
    """How much of the work is done, and memory in MB: resident now, and at most so far."""

    done: int
    of: int
    now_mb: float
    peak_mb: float


def made(directory: Path, count: int, cores: int = 0, **given: Any) -> list[Sample]:
    """Of a film of `count` pictures that lie in `directory`; the first sample is the floor, the last one the end."""
    command = [sys.executable, "-c", _MADE, str(directory), str(count), json.dumps(given), str(cores)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    rows = [[int(part) for part in line.split()] for line in done.stdout.splitlines()]
    return [Sample(row[0], row[1], row[2] / 1024, row[3] / 1024) for row in rows]


def lay_out(directory: Path, count: int, size: tuple[int, int]) -> None:
    place = directory / f"shoots/{SHOOT}"
    place.mkdir(parents=True)
    scene = Landscape()
    for number in range(count):
        path = place / f"{number:06d}.jpg"
        if number < _DISTINCT:
            picture = scene.picture(number)
            picture = picture if picture.size == size else picture.resize(size)
            picture.save(path, quality=95, subsampling=1)
        else:
            os.link(place / f"{number % _DISTINCT:06d}.jpg", path)


def measure(directory: Path, count: int, cores: int, **given: Any) -> None:
    floor, *samples = made(directory, count, cores, fps=25, **given)
    told = ", ".join(f"{name} {value}" for name, value in given.items())
    print(f"\n{count} pictures: {told or 'h264, 8 bits'}", flush=True)
    print(f"  before: {floor.now_mb:.0f} MB (floor)")
    for share in (0.1, 0.5, 0.6, 0.75, 1.0):
        at = samples[min(int(share * len(samples)), len(samples) - 1)]
        print(f"  {at.done:6d} of {at.of}: {at.now_mb:.0f} MB")
    print(f"  peak {samples[-1].peak_mb:.0f} MB (goal for 1080p: at most {_GOAL_MB}),"
          f" {ratio(samples[-1].peak_mb, floor.now_mb)}", flush=True)  # fmt: skip
    second = np.array([(at.done, at.now_mb) for at in samples[:-1] if at.done > 0.55 * at.of])
    if count >= 1000:
        slope = np.polyfit(second[:, 0], second[:, 1], 1)[0] * 1000
        print(f"  slope {slope:+.2f} MB a thousand frames in the second pass", flush=True)


def main(frames: int, big: int, cores: int, only: str | None, size: str) -> None:
    print(machine())
    with tempfile.TemporaryDirectory(prefix="clip-memory-") as name:
        lay_out(Path(name), big, (WIDTH, HEIGHT))
        for kind in KINDS if only is None else (only,):
            measure(Path(name), big, cores, size=tuple(map(int, size.split("x"))), **KINDS[kind])
        if only is None:
            measure(Path(name), min(big, 60), cores, size=(3840, 2160))
    if frames and only is None:
        with tempfile.TemporaryDirectory(prefix="clip-memory-") as name:
            lay_out(Path(name), frames, (480, 320))
            measure(Path(name), frames, cores)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m tests.bench.clip_memory", description=__doc__)
    parser.add_argument("frames", nargs="?", type=int, default=10_000)
    parser.add_argument("big", nargs="?", type=int, default=100)
    parser.add_argument("cores", nargs="?", type=int, default=0)
    parser.add_argument("--only", choices=KINDS)
    parser.add_argument("--size", default="1920x1080", help="pixels at most (default: %(default)s)")
    args = parser.parse_args()
    main(args.frames, args.big, args.cores, args.only, args.size)
