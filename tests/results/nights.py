"""Simulated dusks with known truth: what the scene did, what the settings did, and the JPEGs that came of it.

The scene falls as a clear dusk does at 40° latitude, 0.33 EV a minute at its fastest; settings follow in thirds of a
stop, so that brightness is a sawtooth over the slow truth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from controller.words.documents import Frame, FrameState
from tests.results.dusk import CAMERA, SHOOT, START

Floats = NDArray[np.float64]
INTERVAL_S = 5.0


def srgb(linear: Floats) -> Floats:
    """IEC 61966-2-1, written out here on its own; code 0…255."""
    linear = np.clip(linear, 0, 1)
    return 255 * np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


def to_linear(codes: Floats) -> Floats:
    codes = codes / 255
    return np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)


def styled(linear: Floats) -> Floats:
    """A picture style that is not sRGB: an S in log light with more contrast, mid grey at code 118."""
    powered = np.clip(linear, 0, 1) ** 0.95
    grey = 0.127**0.95
    a = grey * (1 - 118 / 255) / (118 / 255 - grey)
    return 255 * (1 + a) * powered / (powered + a)


@dataclass(frozen=True)
class Night:
    scene_ev: Floats  # slow truth
    exposure_ev: Floats
    flicker_ev: Floats  # what should go
    event_ev: Floats  # what should stay
    curve: Callable[[Floats], Floats] = srgb

    @property
    def wanted(self) -> Floats:
        """The slow truth of the pictures: the scene's fall, less settings that would follow it without steps."""
        lag = np.convolve(np.pad(self.exposure_ev, 60, mode="edge"), np.ones(121) / 121, mode="valid")
        return self.scene_ev - lag

    def picture(self, number: int, size: tuple[int, int] = (320, 216)) -> NDArray[np.uint8]:
        """A hill under a graded sky with a few lamps, exposed, with shot noise."""
        width, height = size
        level = self.scene_ev[number] - self.exposure_ev[number] + self.flicker_ev[number] + self.event_ev[number]
        y, x = np.mgrid[0:height, 0:width] / np.array([height, width])[:, None, None]
        sky = 0.05 + 0.30 * y**1.5
        hill = y > 0.7 + 0.1 * np.sin(7 * x)
        light = np.where(hill, 0.02 + 0.02 * np.sin(40 * x) ** 2, sky) * 2.0**level
        lamps = ((x * 12) % 1 < 0.04) & (y > 0.82) & (y < 0.84)
        light = np.where(lamps, 3.0, light)[..., None] * np.array([1.0, 0.9, 0.8])
        dice = np.random.default_rng(number)
        light = light + dice.normal(0, 1, light.shape) * np.sqrt(np.maximum(light, 0)) * 0.02
        return np.round(self.curve(light)).astype(np.uint8)

    def save(self, directory: Path, size: tuple[int, int] = (320, 216)) -> list[Frame]:
        """Fetched JPEGs below `directory`, and their rows."""
        frames = []
        for number in range(self.scene_ev.size):
            name = Path("shoots") / SHOOT / "2026-12-01" / f"{number + 1:06d}.jpg"
            (directory / name).parent.mkdir(parents=True, exist_ok=True)
            Image.fromarray(self.picture(number, size)).save(directory / name, quality=92)
            frames.append(row(number + 1, local_file=str(name), exposure_ev=float(self.exposure_ev[number])))
        return frames


def row(seq: int, **fields: object) -> Frame:
    given = {"shoot": SHOOT, "camera": CAMERA, "due_utc": START + INTERVAL_S * seq, "interval_s": INTERVAL_S}
    return Frame.model_validate({"seq": seq, "state": FrameState.FETCHED, **given, **fields})


def dusk(
    frames: int = 240,
    *,
    flicker: float = 0.0,
    clouds: float = 0.0,
    lightning: bool = False,
    curve: Callable[[Floats], Floats] = srgb,
    seed: int = 5,
) -> Night:
    """`flicker` is the relative spread of the aperture's flicker, `clouds` the depth of slow clouds in EV
    (a swing of 12 minutes: 0.16 EV a minute at 0.3, where 95 % of daylight minutes with clouds stay below 0.38)."""
    dice = np.random.default_rng(seed)
    minutes = np.arange(frames) * INTERVAL_S / 60
    fall = 0.33 / (1 + np.exp(-(minutes - minutes[-1] / 3) / 1.5))  # EV a minute, from slow to the fastest
    scene = -np.concatenate([[0.0], np.cumsum(np.diff(minutes) * fall[1:])])
    scene = scene + clouds * np.sin(2 * np.pi * minutes / 12)
    exposure = np.zeros(frames)
    for number in range(1, frames):
        exposure[number] = exposure[number - 1]
        wanted = 0.8 * scene[number - 1]  # night may be darker than dusk
        if wanted < exposure[number] - 1 / 6:
            exposure[number] -= 1 / 3
        elif wanted > exposure[number] + 1 / 3:
            exposure[number] += 1 / 3
    shiver = np.log2(1 + flicker * dice.normal(0, 1, frames)) if flicker else np.zeros(frames)
    event = np.zeros(frames)
    if lightning:
        event[[70, 71, 130]] = [1.2, 0.6, 0.9]
    return Night(scene, exposure, shiver, event, curve)
