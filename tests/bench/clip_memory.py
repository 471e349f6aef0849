"""Memory of a clip being made: flat, whatever the number of frames.

`python -m tests.bench.clip_memory [FRAMES [BIG]]` makes a steadied 1080p film of BIG (100) pictures of 24 megapixels,
then one of FRAMES (10000) small ones, each in a process of its own, and prints resident memory on the way, the peak,
and the slope over the second pass.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from tests.bench.clip_speed import HEIGHT, WIDTH, Landscape
from tests.bench.rigs import machine
from tests.results.dusk import SHOOT

_DISTINCT = 12
_GOAL_MB = 400
_MADE = """
import sys
from pathlib import Path
from controller.results.clip.make import make_clip
from controller.results.clip.options import clip_options
from tests.bench.rigs import resident_kb
from tests.results.dusk import SHOOT, shoot
from tests.results.nights import row
directory, count = Path(sys.argv[1]), int(sys.argv[2])
def step(done, of):
    if done % max(of // 40, 1) == 0:
        print(done, of, resident_kb('self'), flush=True)
name = f"shoots/{SHOOT}/"
slots = [row(seq, local_file=f"{name}{seq - 1:06d}.jpg", exposure_ev=-(seq // 5) / 3) for seq in range(1, count + 1)]
made = make_clip(shoot(slots), slots, directory, directory / "clip.mp4", clip_options(fps=25), step)
assert made.frames == count, made
print(0, 0, next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM")))
"""


def measure(directory: Path, count: int, size: tuple[int, int]) -> None:
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
    command = [sys.executable, "-c", _MADE, str(directory), str(count)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    rows = np.array([[int(part) for part in line.split()] for line in done.stdout.splitlines()])
    samples, peak_mb = rows[:-1], rows[-1, 2] / 1024
    print(f"\n{count} pictures of {size[0]}×{size[1]}")
    for share in (0.1, 0.5, 0.6, 0.75, 1.0):
        done_, of, kb = samples[min(int(share * len(samples)), len(samples) - 1)]
        print(f"{done_:6d} of {of}: {kb / 1024:.0f} MB")
    second = samples[samples[:, 0] > 0.55 * samples[:, 1]]
    slope = np.polyfit(second[:, 0], second[:, 2], 1)[0] * 1000 / 1024
    print(f"peak {peak_mb:.0f} MB (goal: at most {_GOAL_MB})")
    if count >= 1000:
        print(f"slope {slope:+.2f} MB a thousand frames in the second pass")


def main(frames: int, big: int) -> None:
    print(machine())
    for count, size in ((big, (WIDTH, HEIGHT)), (frames, (480, 320))):
        with tempfile.TemporaryDirectory(prefix="clip-memory-") as name:
            measure(Path(name), count, size)


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:3]]
    main(*(given + [10_000, 100][len(given) :]))
