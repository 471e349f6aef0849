"""The sensor: luminance and settings in, noisy 8-bit codes (and raw values) out.

A uniform scene exposed at its metered EV (K = 12.5, ISO 2720) lands at 12.7 % of saturation (ISO 12232). Noise is
worked in the scale where it is the same everywhere, z = 2·√(electrons + read² + 3/8) (Anscombe 1948), so that one
addition of unit noise serves shadows and highlights, and one table turns z into codes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from controller.simulated.styles import MID_GREY, curves

Planes = NDArray[np.float32]
METER_K = 12.5
FULL_WELL = 60_000.0  # electrons at ISO 100
READ_NOISE = 2.5, 0.03  # electrons: before the gain, and after it as a multiple of 1/gain's quantum
RAW_WHITE = 16_383
_TABLE = 8192
_STRIP = 48


@dataclass(frozen=True)
class Developed:
    """`codes` is (3, height, width); `mosaic` holds RGGB values up to RAW_WHITE, None when not asked for."""

    codes: NDArray[np.uint8]
    mosaic: NDArray[np.uint16] | None
    mean_linear: float


def saturation_fraction(shutter_s: float, aperture: float, iso: float) -> float:
    """What 1 cd/m² becomes on the sensor, as a fraction of saturation."""
    return MID_GREY * shutter_s * iso / (METER_K * aperture**2)


class Sensor:
    """One instance a style; the noise is drawn once and used again from places chosen by each frame's seed."""

    def __init__(self, style: str, seed: int) -> None:
        self._forward = curves(style)[0]
        self._pool = np.random.default_rng(seed).standard_normal(1 << 20, np.float32)

    def develop(self, scene: Planes, gains: Sequence[float], iso: float, seed: int, raw: bool) -> Developed:
        """Expose `scene` (3, height, width), cd/m², which is used up; `gains` are fractions of saturation per cd/m²."""
        electrons = FULL_WELL * 100 / iso
        offset = READ_NOISE[0] ** 2 + (READ_NOISE[1] * 100 / iso * 400) ** 2 + 0.375
        top = 2 * np.sqrt(electrons * 1.02 + offset)
        scale = _TABLE / top
        z = (np.arange(_TABLE) + 0.5) / scale
        linear = np.clip(((z / 2) ** 2 - offset) / electrons, 0, 1)
        to_code = np.rint(self._forward(linear)).astype(np.uint8)
        places = np.random.default_rng(seed)
        codes = np.empty(scene.shape, np.uint8)
        index = np.empty(scene.shape, np.uint16)
        for plane in range(3):
            gain = np.float32(gains[plane] * electrons)
            for row in range(0, scene.shape[1], _STRIP):
                part = scene[plane, row : row + _STRIP]
                part *= gain
                part += np.float32(offset)
                np.sqrt(part, out=part)
                part *= np.float32(2 * scale)
                start = int(places.integers(0, self._pool.size - part.size))
                part += self._pool[start : start + part.size].reshape(part.shape) * np.float32(scale)
                np.clip(part, 0, _TABLE - 1, out=part)
                index[plane, row : row + _STRIP] = part
                np.take(to_code, index[plane, row : row + _STRIP], out=codes[plane, row : row + _STRIP])
        mosaic = _mosaic(index, np.rint(linear * RAW_WHITE).astype(np.uint16)) if raw else None
        mean = float(linear[index[1, ::4, ::4]].mean())
        return Developed(codes, mosaic, mean)


def _mosaic(index: NDArray[np.uint16], to_raw: NDArray[np.uint16]) -> NDArray[np.uint16]:
    out = np.empty(index.shape[1:], np.uint16)
    for plane, row, column in ((0, 0, 0), (1, 0, 1), (1, 1, 0), (2, 1, 1)):
        out[row::2, column::2] = to_raw[index[plane, row::2, column::2]]
    return out
