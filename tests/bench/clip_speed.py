"""How fast a clip is made of 24-megapixel JPEGs, beside ffmpeg's own command in the same run.

`python -m tests.bench.clip_speed [SHOWN [DISTINCT [ROUNDS]]]` makes DISTINCT (24) pictures of 6000×4000 pixels, 8 to
10 MB each, with texture on all scales that moves slowly, and a 1080p film of SHOWN (72) of them: by ffmpeg with
scaling, by `make_clip` without and with steadying, ROUNDS (3) times in turn. Encoder, preset, rate factor and distance
of keys are the same. Then 10 bits, HEVC, tones and blended frames, once each. Every way runs in a process of its own.
PSNR is that of the decoded luminance against the pictures, averaged over the area of each pixel of the film.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from tests.bench.rigs import machine, ratio
from tests.results.dusk import SHOOT

WIDTH, HEIGHT = 6000, 4000
SIZE = (1620, 1080)
_HERE = str(Path(__file__).resolve().parents[2])


class Landscape:
    """Texture whose amplitude falls as 1/f, as in natural pictures, with grain, under a light sky."""

    def __init__(self) -> None:
        dice = np.random.default_rng(1)
        light = np.zeros((HEIGHT, WIDTH), np.float32)
        edge = 8
        while edge <= WIDTH:
            coarse = Image.fromarray(dice.normal(0, 1, (max(edge * HEIGHT // WIDTH, 2), edge)).astype(np.float32))
            light += np.asarray(coarse.resize((WIDTH, HEIGHT), Image.Resampling.BICUBIC)) * np.float32(65 / edge**0.55)
            edge *= 2
        self._light = 110 + np.linspace(60, -40, HEIGHT, dtype=np.float32)[:, None] + light
        self._grain = dice.normal(0, 4.5, (HEIGHT, WIDTH)).astype(np.float32)

    def picture(self, number: int) -> Image.Image:
        grain = np.roll(self._grain, 7919 * number, axis=(0, 1))
        base = np.roll(self._light, 12 * number, axis=1)
        channels = [(base * share + grain).clip(0, 255).astype(np.uint8) for share in (1.0, 0.95, 0.9)]
        return Image.fromarray(np.stack(channels, axis=-1))


def pictures(directory: Path, distinct: int, shown: int) -> float:
    """Files as a rig would have them; hard links where a picture is shown again. Their mean size in MB."""
    place = directory / f"shoots/{SHOOT}/2026-12-01"
    place.mkdir(parents=True)
    scene = Landscape()
    for seq in range(1, shown + 1):
        path = place / f"{seq:06d}.jpg"
        if seq <= distinct:
            scene.picture(seq).save(path, quality=95, subsampling=1)
        else:
            os.link(place / f"{(seq - 1) % distinct + 1:06d}.jpg", path)
    return sum(path.stat().st_size for path in place.iterdir()) / shown / 1e6


def ffmpeg(directory: Path, out: Path) -> list[str]:
    names = str(directory / f"shoots/{SHOOT}/2026-12-01/%06d.jpg")
    scale = f"scale={SIZE[0]}:{SIZE[1]}:out_color_matrix=bt709:out_range=tv"
    coded = "-c:v libx264 -preset veryfast -crf 20 -aq-mode 3 -g 50 -pix_fmt yuv420p -movflags +faststart".split()
    return ["ffmpeg", "-v", "error", "-y", "-framerate", "25", "-i", names, "-vf", scale, *coded, str(out)]


_OURS = """
import json, sys
from pathlib import Path
from controller.results.clip.make import make_clip
from controller.results.clip.options import clip_options
from tests.results.dusk import SHOOT, shoot
from tests.results.nights import row
directory, out, shown, given = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), json.loads(sys.argv[4])
name = f"shoots/{SHOOT}/2026-12-01/"
slots = [row(seq, local_file=f"{name}{seq:06d}.jpg", exposure_ev=-(seq // 5) / 3) for seq in range(1, shown + 1)]
made = make_clip(shoot(slots), slots, directory, out, clip_options(fps=25, **given))
assert made.unfinished is None and made.frames >= shown, made
"""


def timed(command: list[str]) -> tuple[float, float, float]:
    """Wall and processor seconds, and peak memory in MB."""
    began = time.monotonic()
    process = subprocess.Popen(command, cwd=_HERE)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        sys.exit(f"{command[0]} ended with {process.returncode}")
    return time.monotonic() - began, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def elsewhere(work: Callable[..., float], *given: object) -> float:
    """What it finds in a process of its own: what is measured begins as a copy of this one, and its memory counts."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(work, given)


def psnr(film: Path, directory: Path, count: int) -> float:
    """dB, of the first `count` frames."""
    how = "scale=flags=accurate_rnd+full_chroma_int+bicubic:in_color_matrix=bt709:in_range=tv"
    command = ["ffmpeg", "-v", "error", "-i", str(film), "-frames:v", str(count), "-vf", how]
    done = subprocess.run([*command, "-f", "rawvideo", "-pix_fmt", "rgb24", "-"], capture_output=True, check=True)
    shown = np.frombuffer(done.stdout, np.uint8).reshape(count, SIZE[1], SIZE[0], 3)
    weights, squares = np.array([0.2126, 0.7152, 0.0722]), []
    for number, frame in enumerate(shown, 1):
        with Image.open(directory / f"shoots/{SHOOT}/2026-12-01/{number:06d}.jpg") as image:
            truth = np.asarray(image.convert("RGB").resize(SIZE, Image.Resampling.BOX), float)
        squares.append(np.mean(((frame - truth) @ weights) ** 2))
    return float(10 * np.log10(255**2 / np.mean(squares)))


def main(shown: int, distinct: int, rounds: int) -> None:
    print(machine())
    with tempfile.TemporaryDirectory(prefix="clip-speed-") as name:
        directory = Path(name)
        size = elsewhere(pictures, directory, distinct, shown)
        print(f"{shown} pictures of {WIDTH}×{HEIGHT}, {distinct} distinct, {size:.1f} MB each, to {SIZE[0]}×{SIZE[1]}")

        def ours(out: str, **given: Any) -> list[str]:
            return [sys.executable, "-c", _OURS, name, str(directory / out), str(shown), json.dumps(given)]

        ways = {
            "ffmpeg": ffmpeg(directory, directory / "ffmpeg.mp4"),
            "not steadied": ours("off.mp4", steady="off"),
            "steadied": ours("level.mp4", steady="level"),
        }
        best: dict[str, tuple[float, float, float]] = {}
        for _ in range(rounds):
            for way, command in ways.items():
                found = timed(command)
                best[way] = min(best.get(way, found), found)
        for way, (wall_s, work_s, peak_mb) in best.items():
            rate, work_ms = shown / wall_s, 1000 * work_s / shown
            costs = f"{work_ms:5.0f} ms of a core, {peak_mb:4.0f} MB"
            against = ratio(rate, shown / best["ffmpeg"][0])
            print(f"{way:14} {rate:6.2f} frames/s, {against}, {costs}, memory {ratio(peak_mb, best['ffmpeg'][2])}")
        few = min(8, distinct)
        for way, film in (("ffmpeg", "ffmpeg.mp4"), ("not steadied", "off.mp4")):
            path = directory / film
            found_db = elsewhere(psnr, path, directory, few)
            print(f"{way:14} PSNR {found_db:.2f} dB, {path.stat().st_size / 1e6:.1f} MB")
        more: dict[str, dict[str, Any]] = {
            "tones": {"steady": "tones"},
            "10 bits": {"bits": 10},
            "HEVC": {"codec": "hevc"},
            "HEVC, 10 bits": {"codec": "hevc", "bits": 10},
            "blended": {"retime": "blend", "scene_s_per_s": 90},
        }
        for way, given in more.items():
            wall_s, work_s, peak_mb = timed(ours("more.mp4", **given))
            rate, work_ms = shown / wall_s, 1000 * work_s / shown
            against = ratio(rate, shown / best["ffmpeg"][0])
            print(f"{way:14} {rate:6.2f} pictures/s, {against}, {work_ms:5.0f} ms of a core, {peak_mb:4.0f} MB")


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:4]]
    main(*(given + [72, 24, 3][len(given) :]))
