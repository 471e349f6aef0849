"""Brightness of pictures in linear light, and pictures made lighter or darker in it, without banding.

Codes are taken as sRGB (IEC 61966-2-1); weights of luminance are those of ITU-R BT.709.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Shares = NDArray[np.float32]  # 3 kB for each picture of a clip

_CODES = np.arange(256) / 255
LINEAR: Floats = np.where(_CODES <= 0.04045, _CODES / 12.92, ((_CODES + 0.055) / 1.055) ** 2.4)
WEIGHTS: Floats = np.array([0.2126, 0.7152, 0.0722])
_DARKEST = 2.0**-14  # a black picture has a brightness too


def encode(linear: Floats) -> Floats:
    """sRGB code 0…255, not rounded, of linear light 0…1."""
    curve = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0.0031308) ** (1 / 2.4) - 0.055)
    return np.asarray(255 * curve)


def histogram(pixels: Bytes) -> Shares:
    """Share of luminance that each code carries, per channel, shape (3, 256); `pixels` is (height, width, 3)."""
    counts = [np.bincount(pixels[..., channel].ravel(), minlength=256) for channel in range(3)]
    return (np.stack(counts) / (pixels.size / 3) * WEIGHTS[:, None]).astype(np.float32)


def log2_luminance(shares: Shares, gain: float = 1.0) -> float:
    """log2 of the mean linear luminance of a picture with this histogram, once `gain` is applied and white clips."""
    return float(np.log2(max(float((shares @ np.minimum(gain * LINEAR, 1)).sum()), _DARKEST)))


def log2_luminance_deep(codes: NDArray[np.uint16]) -> float:
    """log2 of the mean linear luminance of a picture of 16 bits, (height, width, 3), whose white is 255 · 256.

    Its codes are not rounded to 8 bits before: what they carry is below those, and rounding looks like flicker.
    """
    light = np.interp(codes / 256, np.arange(256), LINEAR).mean((0, 1))
    return float(np.log2(max(float(light @ WEIGHTS), _DARKEST)))


def gain_for(shares: Shares, change_ev: float) -> float:
    """The gain in linear light that changes the mean luminance by `change_ev`, as far as clipping lets it.

    At most twice as strong in EV as what is asked for: a picture that is white all over cannot get lighter.
    """
    wanted = log2_luminance(shares) + change_ev
    low, high = sorted((0.0, 2 * change_ev))
    for _ in range(24):
        middle = (low + high) / 2
        if log2_luminance(shares, 2.0**middle) < wanted:
            low = middle
        else:
            high = middle
    return float(2.0 ** ((low + high) / 2))


class Dither:
    """Applies gains to pictures of one size. What 8 bits cannot hold becomes noise instead of bands.

    The noise has a fixed seed and a new offset for each frame: the same clip comes out twice, without a pattern that
    stands still.
    """

    def __init__(self, width: int, height: int) -> None:
        self._shape = (height, width, 3)
        self._count = width * height * 3
        self._slack = 65_536
        noise = np.random.default_rng(20_261_201).integers(0, 255, self._count + self._slack, dtype=np.uint8)
        self._noise: Bytes = noise

    def apply(self, image: Image.Image, gain: float, number: int) -> Bytes:
        """An RGB image times `gain` in linear light, as (height, width, 3); `number` of the frame moves the noise."""
        return self.apply_curve(image, np.minimum(gain * LINEAR, 1), number)

    def apply_curve(self, image: Image.Image, curve: Floats, number: int) -> Bytes:
        """The same with linear light 0…1 for each code: of all channels (256,), or of each (3, 256)."""
        exact = np.broadcast_to(np.clip(encode(curve), 0, 255), (3, 256))
        whole = np.floor(exact)
        rest = np.round((exact - whole) * 255)
        start = number * 7919 % self._slack
        noise = self._noise[start : start + self._count].reshape(self._shape)
        raised = np.asarray(image.point(rest.astype(int).ravel().tolist())) > noise
        return np.asarray(np.asarray(image.point(whole.astype(int).ravel().tolist())) + raised.view(np.uint8))
