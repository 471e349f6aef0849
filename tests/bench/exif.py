"""What it costs to read an exposure back from a RAW file, by kind, and how many files ExifTool reads the same.

python -m tests.bench.exif [FILE …]

Without files: invented ones with a JPEG of 24 megapixels inside, beside the DNG, which is a TIFF, and beside the whole
look of the first pass at the file, of which the exposure is a part; last LibRaw, which decodes the sensor first.
With files: each beside what ExifTool reads, in EV.
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rawpy
from PIL import Image

from controller.results.clip.exif import true_exposure
from controller.results.clip.looks import look_at
from controller.results.clip.pictures import Kind, Picture
from controller.results.clip.reader import Reader
from tests.bench.rigs import ratio
from tests.results.nights import row
from tests.support.dng import dng, jpeg
from tests.support.raws import cr3, exif, orf, raf, rw2

SIZE = 6000, 4000
ROUNDS = 200
TAGS = ("ExposureTime", "FNumber", "ISO")
SAME_EV = 0.01


def files(directory: Path) -> list[Path]:
    noise = np.random.default_rng(1).normal(128, 40, (SIZE[1] // 4, SIZE[0] // 4, 3))
    picture = Image.fromarray(np.clip(noise, 0, 255).astype(np.uint8)).resize(SIZE, Image.Resampling.BICUBIC)
    inside, told = jpeg(picture), exif(1 / 60, 3.5, 1250)
    contents = {"dng": dng(np.asarray(picture, np.float32) / 255, preview=picture)}
    contents |= {"cr3": cr3(told, inside), "raf": raf(told, inside), "orf": orf(told, inside), "rw2": rw2(told, inside)}
    for kind, content in contents.items():
        (directory / f"a.{kind}").write_bytes(content)
    return [directory / f"a.{kind}" for kind in contents]


def seconds(work: Callable[[], object], rounds: int) -> float:
    """Processor seconds, the least of the rounds."""
    found = []
    for _ in range(rounds):
        before = time.process_time()
        work()
        found.append(time.process_time() - before)
    return min(found)


def bytes_read(work: Callable[[], object]) -> int:
    def so_far() -> int:
        return int(Path("/proc/self/io").read_text().split()[1])

    own = -so_far() + so_far()  # of asking
    before = so_far()
    work()
    return so_far() - before - own


def cost(path: Path, floor_s: float | None) -> float:
    """Print a line beside the floor, which the first one is; its seconds."""

    def told() -> object:
        return true_exposure(path)

    picture, reader = Picture(row(1), path, Kind.EMBEDDED), Reader()
    look = seconds(lambda: look_at(reader, picture), 3)
    size = path.stat().st_size / 1e6
    one = seconds(told, ROUNDS)
    read = bytes_read(told) / 1e3
    print(f"{path.suffix[1:]:4} {size:5.1f} MB  {one * 1e3:5.2f} ms  {read:7.1f} kB read  look {look * 1e3:4.0f} ms"
          f"  {ratio(one, floor_s or one)}")  # fmt: skip
    return one


def by_libraw(path: Path) -> object:
    with rawpy.imread(str(path)) as raw:
        return raw.other


def beside_exiftool(paths: list[Path]) -> None:
    command = ["exiftool", "-json", "-n", *(f"-EXIF:{tag}" for tag in TAGS), *map(str, paths)]
    found = json.loads(subprocess.run(command, capture_output=True, check=False).stdout)
    told_by_it, same = 0, 0
    for one in found:
        path = Path(one["SourceFile"])
        told = true_exposure(path)
        ours = (told.written_s, told.written_aperture, told.written_iso) if told else (None, None, None)
        other = tuple(one.get(tag) for tag in TAGS)
        apart = [_apart(*pair) for pair in zip(ours, other, (1, 2, 1), strict=True)]
        told_by_it += other != (None, None, None)
        same += other != (None, None, None) and max(apart) <= SAME_EV
        print(f"{path.name}: {ours}, ExifTool {other}, {max(apart):.4f} EV apart")
    print(f"{len(found)} files; ExifTool reads an exposure from {told_by_it}, {same} agree within {SAME_EV} EV each")


def _apart(one: float | None, other: float | None, power: int) -> float:
    """In EV; infinite where one alone is told."""
    if one is None or other is None:
        return 0.0 if one is other else math.inf
    return abs(power * math.log2(one / other))


def main() -> None:
    if len(sys.argv) > 1:
        beside_exiftool([Path(name) for name in sys.argv[1:]])
        return
    with tempfile.TemporaryDirectory() as name:
        paths = files(Path(name))
        floor_s = None
        for path in paths:
            one = cost(path, floor_s)
            floor_s = floor_s or one
        print(f"LibRaw's of the DNG: {seconds(lambda: by_libraw(paths[0]), 3) * 1e3:.0f} ms")


if __name__ == "__main__":
    main()
