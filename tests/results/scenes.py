"""Drawn scenes of a site with known contrast: a facade before hills, in sun, cloud, fog, rain and at night."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.results.nights import srgb

Floats = NDArray[np.float64]
HEIGHT, WIDTH = 216, 324
AIRLIGHT = 0.55
DAY_EV = 13.0


@cache
def bare() -> tuple[Floats, Floats]:
    """Luminance of the clear scene, and distance in units of the facade's."""
    dice = np.random.default_rng(7)
    down = np.arange(HEIGHT)[:, None]
    light, distance = np.full((HEIGHT, WIDTH), 0.5), np.full((HEIGHT, WIDTH), 40.0)
    light = light + 0.1 * (1 - down / 90)
    hills = down > 70 + 12 * np.sin(np.arange(WIDTH) / 31.0)
    light = np.where(hills, 0.16 + 0.05 * np.sin(np.arange(WIDTH) / 3.0) * np.cos(down / 4.0), light)
    distance = np.where(hills, 4.0, distance)
    for row in range(95, HEIGHT, 11):  # windows, bricks and scaffolding
        for column in range(20, WIDTH - 20, 13):
            shade = dice.uniform(0.05, 0.6)
            light[row : row + 8, column : column + 9] = shade
            light[row : row + 8, column : column + 1] = 0.03
            distance[row : row + 8, column : column + 9] = 1.0
    return light, distance


def scene(
    number: int, *, sun: float = 1.0, fog: float = 0.0, drops: int = 0, lamps: bool = False, blur: int = 0
) -> Floats:
    """Linear luminance 0…1. `sun`: what is left of the contrast; `fog`: extinction per unit of distance
    (Koschmieder); `drops`: how many lie on the lens; `lamps`: a night with some; noise by `number`."""
    dice = np.random.default_rng(number)
    light, distance = bare()
    light = light.mean() + sun * (light - light.mean())
    clouds = np.sin(np.arange(WIDTH) / dice.uniform(3, 40) + dice.uniform(0, 6)) * dice.uniform(0, 0.08)
    light = np.where(distance > 10, light + clouds, light)
    shadow = np.arange(WIDTH) + dice.uniform(-60, 60) < 100 + 0.4 * np.arange(HEIGHT)[:, None]
    light = np.where(shadow & (distance < 10), (0.35 + 0.65 * (1 - sun)) * light, light)  # it wanders with the hour
    if lamps:
        light = 0.02 * light
        for _ in range(12):
            row, column = dice.integers(100, HEIGHT - 6), dice.integers(10, WIDTH - 10)
            light[row : row + 4, column : column + 4] = 1.0
    through = np.exp(-fog * distance)
    light = light * through + AIRLIGHT * (1 - through)
    for _ in range(drops):  # out of focus: without an edge, and bright from the sky that they gather
        row, column, size = dice.integers(95, HEIGHT - 15), dice.integers(20, WIDTH - 20), dice.uniform(14, 24)
        down, across = np.arange(HEIGHT)[:, None] - row, np.arange(WIDTH) - column
        cover = 0.8 * np.clip(1.6 - np.hypot(down, across) / size, 0, 1) ** 0.7
        light = light * (1 - cover) + cover * (0.45 - 0.1 * down / size)
    if blur:
        for axis in (0, 1):
            light = sum(np.roll(light, n, axis) for n in range(-blur, blur + 1)) / (2 * blur + 1)
    return np.asarray(np.clip(light + dice.normal(0, 0.004, light.shape), 0, 1))


def save(path: Path, light: Floats) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    codes = np.round(srgb(light)).astype(np.uint8)
    Image.fromarray(codes).convert("RGB").save(path, quality=88)
