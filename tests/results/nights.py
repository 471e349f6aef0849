"""Simulated dusks with known truth: what the scene did, what the settings did, and the JPEGs that came of it.

The scene falls as a clear dusk does at 40° latitude, 0.33 EV a minute at its fastest; settings follow in thirds of a
stop, so that brightness is a sawtooth over the slow truth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
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
    asked_ev: Floats  # the exposure before stops were rounded
    curve: Callable[[Floats], Floats] = srgb

    @property
    def wanted(self) -> Floats:
        """The truth that a film should show: the scene under settings that follow it without steps."""
        return self.scene_ev - self.asked_ev

    @property
    def ideal(self) -> Night:
        """What a camera without steps and without flicker would have taken."""
        return replace(self, scene_ev=self.wanted, exposure_ev=0 * self.asked_ev, flicker_ev=0 * self.flicker_ev)

    @property
    def calm(self) -> Night:
        """As it was taken, steps and all, had nothing flickered and flashed."""
        return replace(self, flicker_ev=0 * self.flicker_ev, event_ev=0 * self.event_ev)

    def with_exposure(self, exposure_ev: Floats) -> Night:
        """The same light, taken otherwise."""
        return replace(self, exposure_ev=exposure_ev)

    def picture(self, number: int, size: tuple[int, int] = (320, 216)) -> NDArray[np.uint8]:
        """A hill under a graded sky with a few lamps, exposed, with shot noise."""
        level = self.scene_ev[number] - self.exposure_ev[number] + self.flicker_ev[number] + self.event_ev[number]
        unlit, lamps = _view(size)
        light = np.where(lamps, 3.0, unlit * 2.0**level) * np.array([1.0, 0.9, 0.8])
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


@cache
def _view(size: tuple[int, int]) -> tuple[Floats, NDArray[np.bool_]]:
    """Light of the view at level 0, and where the lamps are, (height, width, 1) each."""
    width, height = size
    y, x = np.mgrid[0:height, 0:width] / np.array([height, width])[:, None, None]
    hill = y > 0.7 + 0.1 * np.sin(7 * x)
    light = np.where(hill, 0.02 + 0.02 * np.sin(40 * x) ** 2, 0.05 + 0.30 * y**1.5)
    lamps = ((x * 12) % 1 < 0.04) & (y > 0.82) & (y < 0.84)
    return light[..., None], lamps[..., None]


def row(seq: int, **fields: object) -> Frame:
    given = {"shoot": SHOOT, "camera": CAMERA, "due_utc": START + INTERVAL_S * seq, "interval_s": INTERVAL_S}
    return Frame.model_validate({"seq": seq, "state": FrameState.FETCHED, **given, **fields})


def dusk(
    frames: int = 240,
    *,
    flicker: float = 0.0,
    jitter: float = 0.0,
    clouds: float = 0.0,
    broken: Floats | None = None,
    lightning: bool = False,
    headlights: bool = False,
    curve: Callable[[Floats], Floats] = srgb,
    seed: int = 5,
) -> Night:
    """`flicker` is the relative spread of the aperture's flicker, `jitter` that of the shutter's times, `clouds` the
    depth of slow clouds in EV (a swing of 12 minutes: 0.16 EV a minute at 0.3, where 95 % of daylight minutes with
    clouds stay below 0.38), `broken` what other clouds did to the light, EV per frame. The headlights of a car shine
    for one to five frames."""
    dice = np.random.default_rng(seed)
    minutes = np.arange(frames) * INTERVAL_S / 60
    fall = 0.33 / (1 + np.exp(-(minutes - minutes[-1] / 3) / 1.5))  # EV a minute, from slow to the fastest
    scene = -np.concatenate([[0.0], np.cumsum(np.diff(minutes) * fall[1:])])
    scene = scene + clouds * np.sin(2 * np.pi * minutes / 12)
    asked = 0.8 * np.concatenate([scene[:1], scene[:-1]])  # night may be darker than dusk
    scene = scene + (0 if broken is None else broken)  # which is no light to follow
    exposure = np.full(frames, round(3 * asked[0]) / 3)
    for number in range(1, frames):
        off = asked[number] - exposure[number - 1]
        exposure[number] = exposure[number - 1] + (np.sign(off) / 3 if abs(off) > 0.18 else 0)
    shiver = np.log2(1 + flicker * dice.normal(0, 1, frames)) if flicker else np.zeros(frames)
    shiver = shiver + (np.log2(1 + jitter * dice.normal(0, 1, frames)) if jitter else 0)
    event = np.zeros(frames)
    if lightning:
        event[[70, 71, 130]] = [1.2, 0.6, 0.9]
    if headlights:
        for first in range(35, frames - 10, 50):
            event[first : first + 1 + first // 10 % 5] += 0.5
    return Night(scene, exposure, shiver, event, asked, curve)
