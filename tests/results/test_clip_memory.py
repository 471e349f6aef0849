"""Memory of the most demanding film, HEVC of ten bits: that of 24 megapixels at 1080p reckoned from two small ones."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
from PIL import Image

from tests.bench.clip_memory import Sample, made
from tests.results.dusk import SHOOT

GOAL_MB = 400
FULL = 1620 * 1080  # pixels of a film of 3:2
SMALL, MIDDLE = (480, 320), (960, 640)
A_PART = 40  # frames at 10 a second
LEAK_MB = 12  # of 80 frames, of which each is drawn from 3 MB


def film(directory: Path, size: tuple[int, int], count: int) -> list[Sample]:
    """Of pictures as much larger than the film as 24 megapixels are than 1080p."""
    place = directory / f"shoots/{SHOOT}"
    place.mkdir(parents=True)
    edge = size[0] * 6000 // 1620, size[1] * 4000 // 1080
    dice = np.random.default_rng(3)
    for number in range(count):
        path = place / f"{number:06d}.jpg"
        if number < 4:
            coarse = dice.uniform(40, 200, (edge[1] // 8, edge[0] // 8, 3)).astype(np.uint8)
            Image.fromarray(coarse).resize(edge).save(path, quality=90)
        else:
            os.link(place / f"{number % 4:06d}.jpg", path)
    return made(directory, count, fps=10, codec="hevc", bits=10, size=size)


def test_memory_is_flat_and_below_the_goal(tmp_path: Path) -> None:
    small = film(tmp_path / "small", SMALL, 3 * A_PART)
    first_part = [at.peak_mb for at in small if at.done <= small[-1].of / 2 + A_PART][-1]
    assert small[-1].peak_mb < first_part + LEAK_MB, small
    middle = film(tmp_path / "middle", MIDDLE, A_PART)
    pixels = [size[0] * size[1] for size in (SMALL, MIDDLE)]
    a_pixel = (middle[-1].peak_mb - small[-1].peak_mb) / (pixels[1] - pixels[0])
    full_mb = middle[-1].peak_mb + a_pixel * (FULL - pixels[1])
    assert 150 < full_mb < GOAL_MB, (full_mb, small[-1], middle[-1])  # less is no film of that size
