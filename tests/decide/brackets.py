"""Synthetic brackets and dusks seen by the simulated camera's sensor in each of its picture styles, as thumbnails.

The truth is the style's formula, `controller/simulated/styles.py`, which is worked out on paper there.
"""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from controller.decide.meter import MID_CODE
from controller.decide.response import HIGHEST, LOWEST, Shot, cells
from controller.simulated.sensor import Sensor
from controller.simulated.styles import MID_GREY, curves

STYLES = ("standard", "flat", "vivid")
ORDER_EV = (0, -1, 1, -2, 2, -3, 3, 0)
CODES = np.arange(LOWEST, HIGHEST + 1)


def truth(style: str) -> np.ndarray:
    """Log2 of the light of codes 20…240 against mid grey's, by the style's formula."""
    _, backward = curves(style)
    return np.log2(backward(CODES.astype(float)) / backward(np.array([float(MID_CODE)])))


def error_ev(linear: np.ndarray, style: str) -> float:
    """How far a curve is off over codes 20…240, EV rms; mid grey is held at its code."""
    return float(np.sqrt(np.mean((np.log2(linear[CODES] / linear[MID_CODE]) - truth(style)) ** 2)))


def landscape(height: int = 216, width: int = 320) -> np.ndarray:
    """A sky that brightens upwards over darker ground, with a lit wall; (3, height, width), mean 1."""
    y, x = np.linspace(0, 1, height)[:, None], np.linspace(0, 1, width)[None]
    light = 2.0 ** (5 * (1 - y) + 1.5 * np.sin(7 * x) - 2 - 1.5 * (y > 0.6))
    planes = np.stack([light * 1.1, light, light * 0.8])
    planes[:, height * 7 // 10 : height * 8 // 10, width // 3 : width * 2 // 5] *= 6
    return (planes / planes.mean()).astype(np.float32)


class Eye:
    """One sensor with one style; each picture has noise of its own."""

    def __init__(self, style: str, scene: np.ndarray | None = None) -> None:
        self._sensor, self._scene = Sensor(style, 1), landscape() if scene is None else scene
        self._seed = 0

    def image(self, light_ev: float, exposure_ev: float) -> np.ndarray:
        """Codes (height, width, 3) of a scene that is `light_ev` above the first one's EV."""
        self._seed += 1
        gain = MID_GREY * 2.0 ** (light_ev - exposure_ev)
        codes = self._sensor.develop(self._scene.copy(), [gain] * 3, 400, self._seed, False).codes
        return np.ascontiguousarray(codes.transpose(1, 2, 0))

    def thumbnail(self, light_ev: float, exposure_ev: float) -> bytes:
        """160 × 120 with bars, as DCF asks for."""
        small = Image.fromarray(self.image(light_ev, exposure_ev)).resize((160, 107), Image.Resampling.BOX)
        whole, out = Image.new("RGB", (160, 120)), io.BytesIO()
        whole.paste(small, (0, 6))
        whole.save(out, "JPEG", quality=85)
        return out.getvalue()


def bracket(style: str, ev_min: float = 0.2) -> list[Shot]:
    """Eight frames, four seconds apart, while the light changes."""
    eye = Eye(style)
    return [
        Shot(cells(eye.thumbnail(ev_min * i * 4 / 60, ev)), float(ev), i * 4.0, 0.0) for i, ev in enumerate(ORDER_EV)
    ]


def dusk(
    style: str, frames: int = 90, ev_min: float = 0.3, model: float = 0.9, clouds: float = 0.0, every: int = 6
) -> list[Shot]:
    """A shoot's frames 20 s apart: the light falls, and the exposure follows in thirds. `model` is the share of the
    fall that the sky model knows of, `clouds` the EV that comes and goes from frame to frame."""
    eye, rng = Eye(style), np.random.default_rng(3)
    shots, exposure_ev, cloud = [], 0.0, 0.0
    for i in range(frames):
        fall, cloud = -ev_min * i / 3, 0.95 * cloud + rng.normal(0, clouds)
        if abs(fall + cloud - exposure_ev) > 0.19:
            exposure_ev = round((fall + cloud) * 3) / 3
        shots.append(
            Shot(cells(eye.thumbnail(fall + cloud, exposure_ev), every=every), exposure_ev, i * 20.0, model * fall)
        )
    return shots
