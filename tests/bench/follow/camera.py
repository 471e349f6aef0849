"""A camera of numbers: light, noise, saturation and a tone curve, then metered as a JPEG's codes would be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from controller.decide.meter import SRGB, Reading
from tests.bench.follow.light import Floats

MID_CODE = 118
PIXELS = 400
_SHUTTER_SD_EV = 0.015  # an exposure is not quite the one that was set; common practice, no source
_PIXEL_SD = 0.004  # of saturation


@dataclass(frozen=True)
class Tone:
    """Code by linear light: sRGB, bent around mid grey (which stays at code 118) to `contrast` times its slope."""

    name: str
    contrast: float

    def codes(self, linear: Floats) -> Floats:
        x = np.clip(linear, 0.0, 1.0)
        code = np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)  # IEC 61966-2-1
        mid = MID_CODE / 255
        low = mid * np.power(np.minimum(code, mid) / mid, self.contrast)
        high = 1 - (1 - mid) * np.power(np.minimum(1 - code, 1 - mid) / (1 - mid), self.contrast)
        return np.round(255 * np.where(code <= mid, low, high))

    def decoding(self) -> Floats:
        """Linear light of each code."""
        linear = np.linspace(0, 1, 200_001)
        codes = self.codes(linear)
        first, last = np.searchsorted(codes, np.arange(256)), np.searchsorted(codes, np.arange(256), side="right") - 1
        found = 0.5 * (linear[np.minimum(first, 200_000)] + linear[np.maximum(last, 0)])
        found[255] = 1.0
        return found


SRGB_TONE = Tone("sRGB", 1.0)
VIVID = Tone("vivid", 1.4)
SOFT = Tone("soft", 0.8)


def _reflectances() -> Floats:
    """A scene's luminances over its metered mean: log-normal, 0.9 EV, up to 2.1 EV above."""
    rank = (np.arange(PIXELS) + 0.5) / PIXELS
    normal = np.sort(np.random.default_rng(3).standard_normal(PIXELS * 50))[(rank * PIXELS * 50).astype(int)]
    light = 2 ** np.clip(0.9 * normal, -4, 2.1)
    return light / light.mean()


_SCENE = _reflectances()


@dataclass(frozen=True)
class Camera:
    """`learned`: the body's curve is known and decodes its codes; else they are taken as sRGB."""

    tone: Tone = SRGB_TONE
    learned: bool = True

    def picture(self, over_ev: float, rng: np.random.Generator) -> Reading:
        """The reading of a picture of a scene `over_ev` brighter than what its exposure suits."""
        light = float(SRGB.mid) * 2 ** (over_ev + rng.normal(0, _SHUTTER_SD_EV)) * _SCENE
        codes = self.tone.codes(light + rng.normal(0, _PIXEL_SD, PIXELS)).astype(np.intp)
        decode = _decoding(self.tone) if self.learned else np.asarray(SRGB.linear, dtype=np.float64)
        level = np.minimum(decode[codes], np.partition(decode[codes], int(PIXELS * 0.98))[int(PIXELS * 0.98)]).mean()
        clipped, black = float((codes >= 254).mean()), float((codes <= 2).mean())
        return Reading(float(level), clipped, black, PIXELS, 1, float(decode[MID_CODE]))

    def clips(self, over_ev: float) -> float:
        """The share of the scene that would be lost above saturation."""
        return float((float(SRGB.mid) * 2**over_ev * _SCENE >= 1.0).mean())


_DECODINGS: dict[str, Floats] = {}


def _decoding(tone: Tone) -> Floats:
    if tone.name not in _DECODINGS:
        _DECODINGS[tone.name] = tone.decoding()
    return _DECODINGS[tone.name]
