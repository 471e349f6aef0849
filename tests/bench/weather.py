"""Fog, drops and night on a real photograph, with weather put into it by published models: what `--skip` tells.

`python -m tests.bench.weather [PHOTO …] [SITES]`: each photograph is a site of its own, of eleven days with four frames
each in sun, thin cloud and under an overcast sky, and among them what is to be found; so many sites (6) with other
dice. Without a photograph the drawn scene of the tests stands for one. A photograph of a landscape or a building by
day, 640 pixels wide or more; none is in the repository.

- Fog: I = J·t + A·(1 − t), t = exp(−σ·d) (Koschmieder 1924, as in Narasimhan & Nayar, Int. J. Comput. Vision 48 (2002)
  233). What is far, and the light of the air, are told from the photograph by its dark channel (He, Sun & Tang, IEEE
  Trans. Pattern Anal. 33 (2011) 2341), along its edges (guided filter, the same, 35 (2013) 1397). What shows no air
  between it and the camera is at distance 1, what shows most at 40, as sky; so σ = 3 is fog in which what is near
  keeps 5 % of its contrast, the meteorological optical range (WMO Guide No. 8).
- Drops: I = (1 − M)·B + R (Qian et al., CVPR 2018), R being what is around, blurred, as it gathers in a drop that is
  out of focus, M without an edge.
- What changes from frame to frame beside the weather is an invention: contrast of the sky's light, a shadow, exposure,
  a camera that sways and leaves in the wind by up to a pixel, noise.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from controller.results.series.judge import Table, judge
from controller.results.series.measure import measure
from tests.bench.rigs import machine
from tests.results.nights import Floats, srgb, to_linear
from tests.results.scenes import DAY_EV, bare

WIDTH = 640
SKY = 3.0
FOG = (0.05, 0.2, 0.5, 0.9, 1.5, 2.5)
DROPS = (2, 4, 8)


@dataclass(frozen=True)
class Site:
    """Linear light (height, width, 3), how far away each pixel is, and the light of the air."""

    light: Floats
    distance: Floats
    air: Floats


def of_photograph(path: Path) -> Site:
    with Image.open(path) as image:
        small = image.convert("RGB").resize((WIDTH, round(WIDTH * image.height / image.width)))
    light = to_linear(np.asarray(small, float))
    light = 0.7 * light  # so that little is white in any frame
    kernel = np.ones((9, 9), np.uint8)
    dark = cv2.erode(light.min(axis=2), kernel)
    air = light[dark >= np.quantile(dark, 0.999)].mean(axis=0)
    through = guided(1 - 0.95 * cv2.erode((light / air).min(axis=2), kernel), light.mean(axis=2))
    depth = -np.log(np.clip(through, 0.03, 1))
    low, high = np.quantile(depth, (0.3, 0.95))
    return Site(light, 1 + 39 * np.clip((depth - low) / (high - low), 0, 1) ** 2, air)


def guided(values: Floats, guide: Floats, radius: int = 20, smooth: float = 1e-3) -> Floats:
    """`values` along the edges of `guide`."""

    def mean(of: Floats) -> Floats:
        return np.asarray(cv2.blur(of, (2 * radius + 1, 2 * radius + 1)))

    slope = (mean(guide * values) - mean(guide) * mean(values)) / (mean(guide**2) - mean(guide) ** 2 + smooth)
    return mean(slope) * guide + mean(mean(values) - slope * mean(guide))


def drawn() -> Site:
    light, distance = (cv2.resize(each, (WIDTH, WIDTH * 2 // 3)) for each in bare())  # there, too, 1 is near and 40 sky
    return Site(np.repeat(light[..., None], 3, axis=2), distance, np.full(3, 0.55))


def shown(site: Site, dice: np.random.Generator, *, sun: float = 1.0, fog: float = 0.0, drops: int = 0) -> Floats:
    """One frame in linear light."""
    height, width = site.distance.shape
    light = site.light.mean() + sun * (site.light - site.light.mean())
    down, across = np.mgrid[:height, :width].astype(np.float32)
    beside = across - dice.uniform(0.1, 0.9) * width + 0.4 * down
    shadow = 1 / (1 + np.exp(np.clip(beside / 6, -30, 30)))
    light = light * (1 - 0.55 * sun * shadow * (site.distance < SKY))[..., None]
    through = np.exp(-fog * site.distance)[..., None]
    light = light * through + site.air * (1 - through)
    wind = [cv2.GaussianBlur(dice.normal(0, 8, (height, width)), (0, 0), 8) + dice.uniform(-1, 1) for _ in range(2)]
    at = (across + wind[0].astype(np.float32), down + wind[1].astype(np.float32))
    light = cv2.remap(light, *at, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    around = cv2.GaussianBlur(light, (0, 0), 40)
    for _ in range(drops):
        size = dice.uniform(0.06, 0.12) * height
        off = np.hypot(down - dice.uniform(0.3, 0.95) * height, across - dice.uniform(0.05, 0.95) * width)
        cover = (0.85 * np.clip(1.6 - off / size, 0, 1) ** 0.7)[..., None]
        light = light * (1 - cover) + around[::-1] * cover
    light = np.clip(light * 2 ** dice.normal(0, 0.3), 0, 1)
    return np.asarray(np.clip(light + dice.normal(0, 0.004, light.shape), 0, 1))


def lived(site: Site, seed: int, directory: Path) -> tuple[list[str], Table]:
    """What was there, and what its small picture shows, of each frame."""
    dice, table = np.random.default_rng(seed), Table()
    truth: list[str] = []

    def add(day: int, what: str, light: Floats, exposure_ev: float = DAY_EV) -> None:
        path = directory / "frame.jpg"
        Image.fromarray(np.round(srgb(light)).astype(np.uint8)).save(path, quality=88)
        measures = measure(path, exposure_ev)
        assert measures is not None
        table.add(day, measures)
        truth.append(what)

    for day in range(11):
        sun = float(dice.choice([1.0, 0.8, 0.62]))
        for _ in range(4):
            add(day, f"fit, light {sun:g}", shown(site, dice, sun=sun))
        if day in (3, 9):
            for fog in FOG:
                add(day, f"fog of {fog:g}", shown(site, dice, fog=fog))
        if day in (5, 10):
            for drops in DROPS:
                add(day, f"{drops} drops", shown(site, dice, drops=drops))
        if day % 2:
            add(day, "night", shown(site, dice) * 0.5, 1.0)
    return truth, table


def main() -> None:
    given: list[Any] = [Path(text) for text in sys.argv[1:] if not text.isdigit()]
    sites = next((int(text) for text in sys.argv[1:] if text.isdigit()), 6)
    print(machine())
    with tempfile.TemporaryDirectory() as directory:
        for path in given or [None]:
            site = drawn() if path is None else of_photograph(path)
            found: Counter[tuple[str, str]] = Counter()
            for seed in range(sites):
                truth, table = lived(site, seed, Path(directory))
                found += Counter(zip(truth, (word or "fit" for word in judge(table)), strict=True))
            print(f"\n{'drawn scene' if path is None else path.name}")
            print("| there was | frames | said |\n| --- | --- | --- |")
            for what in dict.fromkeys(sorted(each[0] for each in found)):
                said = {word: count for (there, word), count in found.items() if there == what}
                told = ", ".join(f"{word} {count}" for word, count in sorted(said.items(), key=lambda each: -each[1]))
                print(f"| {what} | {sum(said.values())} | {told} |")


if __name__ == "__main__":
    main()
