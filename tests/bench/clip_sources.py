"""What a picture of each source costs: 24 megapixels to a 1080p frame, processor seconds and memory.

python -m tests.bench.clip_sources

The floor of the same run is Pillow alone: the JPEG decoded at half its size, and made smaller. Pictures are invented.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image

from controller.results.clip import raw
from controller.results.clip.geometry import Canvas, Shape
from controller.results.clip.options import ClipOptions, Window
from controller.results.clip.pictures import Kind, Picture
from controller.results.clip.reader import Reader
from tests.bench.rigs import ratio
from tests.results.nights import row, to_linear
from tests.support.dng import dng
from tests.support.icc import DISPLAY_P3, profile

SIZE = 6000, 4000
ROUNDS = 3


def files(directory: Path) -> None:
    """A JPEG, the same with a profile, and a RAW file with a JPEG of full size inside."""
    noise = np.random.default_rng(1).normal(128, 40, (SIZE[1] // 4, SIZE[0] // 4, 3))
    picture = Image.fromarray(np.clip(noise, 0, 255).astype(np.uint8)).resize(SIZE, Image.Resampling.BICUBIC)
    wide = profile(DISPLAY_P3, to_linear(np.linspace(0, 255, 1024)))
    picture.save(directory / "plain.jpg", quality=90)
    picture.save(directory / "wide.jpg", quality=90, icc_profile=wide)
    (directory / "raw.dng").write_bytes(dng(np.asarray(picture, np.float32) / 255, preview=picture))


def seconds(work: Callable[[], object]) -> float:
    """Processor seconds, the least of a few rounds."""
    found = []
    for _ in range(ROUNDS):
        before = time.process_time()
        work()
        found.append(time.process_time() - before)
    return min(found)


def floor(path: Path, size: tuple[int, int]) -> None:
    with Image.open(path) as image:
        image.draft("RGB", size)
        image.load()
        image.resize(size, Image.Resampling.HAMMING)


def one(name: str, path: Path, floor_s: float | None = None) -> None:
    """Print a line, and at its end the seconds; in a process of its own, so that the memory is its own."""
    kind = {"embedded": Kind.EMBEDDED, "developed": Kind.DEVELOPED, "developed, 4K": Kind.DEVELOPED}.get(name)
    asked = ClipOptions(fps=25, size=(3840, 2160) if "4K" in name else None)
    if name == "pan":
        asked = ClipOptions(fps=25, crop=Window(x=0, y=0, w=0.9, h=0.9), pan_to=Window(x=0.1, y=0.1, w=0.9, h=0.9))
    how = raw.development([path]) if kind is Kind.DEVELOPED else None
    picture = Picture(row(1), path, kind or Kind.FETCHED, how)
    canvas = Canvas.of(Shape(*SIZE, 1), asked)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    if name == "floor":
        spent = seconds(lambda: floor(path, canvas.size))
    else:
        reader = Reader()
        spent = seconds(lambda: reader.decode(picture, canvas).image(canvas.window(3, 10)))
    more = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    print(f"{name:15} {canvas.size[0]}×{canvas.size[1]} {spent:6.2f} s of one core, {ratio(spent, floor_s or spent)}"
          f"  {more:5.0f} MB\n{spent}", flush=True)  # fmt: skip


def main() -> None:
    with tempfile.TemporaryDirectory() as directory:
        ask("make", directory)  # elsewhere, or the memory that it took would be counted with the readers'
        floor_s: list[str] = []
        for name, file in (
            ("floor", "plain.jpg"),
            ("fetched", "plain.jpg"),
            ("with a profile", "wide.jpg"),
            ("pan", "plain.jpg"),
            ("embedded", "raw.dng"),
            ("developed", "raw.dng"),
            ("developed, 4K", "raw.dng"),
        ):
            line, spent = ask(name, str(Path(directory) / file), *floor_s)
            print(line, flush=True)
            floor_s = floor_s or [spent]


def ask(*arguments: str) -> list[str]:
    """The lines that it prints."""
    command = [sys.executable, "-m", "tests.bench.clip_sources", *arguments]
    return subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout.splitlines()


if __name__ == "__main__":
    if len(sys.argv) == 1:
        main()
    elif sys.argv[1] == "make":
        files(Path(sys.argv[2]))
    else:
        one(sys.argv[1], Path(sys.argv[2]), *map(float, sys.argv[3:]))
