"""How bright a picture came out, in linear light, and from that how bright the scene was.

A mean of code values would weigh dark parts too much: codes are decoded first, then weighed and averaged. The frame is
averaged over blocks, and the brightest of them count no more than those below them (winsorised mean, Tukey 1962), so
that a headlight that passes is not the scene.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from controller.decide.picture import MeterError, read_picture

__all__ = ["SRGB", "Curve", "MeterError", "Reading", "Region", "meter", "scene_ev"]

Floats = NDArray[np.float32]

WEIGHTS = (0.2126, 0.7152, 0.0722)
"""Luminance of linear sRGB, ITU-R BT.709."""

_WEIGHTS = np.array(WEIGHTS, np.float32)

MID_CODE = 118
"""The code that standard output sensitivity puts mid grey at, ISO 12232."""

TOP_CODE, BOTTOM_CODE = 254, 2
_ROWS, _COLUMNS = 12, 16
_BRIGHT_SHARE = 0.05  # of the weight: what a passing headlight may cover without being taken for the scene


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """What each code from 0 to 255 means in linear light: 256 values, ascending, 1 at the top; one for all channels."""

    linear: Floats

    @property
    def mid(self) -> float:
        """Linear light of a picture that renders its scene mid grey."""
        return float(self.linear[MID_CODE])


def _srgb() -> Curve:
    code = np.arange(256, dtype=np.float64) / 255.0
    low, high = code / 12.92, ((code + 0.055) / 1.055) ** 2.4
    return Curve(np.where(code <= 0.04045, low, high).astype(np.float32))


SRGB = _srgb()
"""Decoding of IEC 61966-2-1, for want of a body's own curve."""


@dataclass(frozen=True, slots=True)
class Region:
    """How much a part of the picture counts. Fractions of its width and height from the left and the top; a weight of 0
    leaves it out. What lies in no region counts 1, and where regions overlap the last one is right."""

    left: float
    top: float
    right: float
    bottom: float
    weight: float


@dataclass(frozen=True, slots=True)
class Reading:
    """What a picture shows. `level` is the mean linear luminance, 0…1, with the brightest 5 % held down to the rest's
    brightest; `clipped` and `black` are the shares of pixels at the ends of the scale, weighed like the level. Where
    they are large the level is a bound: the scene is at least so bright, or at most. Size in pixels as metered, without
    bars; `shape` is width by height where bars gave it away. `mid` and `darkest` are the curve's mid grey and half of
    its first code."""

    level: float
    clipped: float
    black: float
    width: int
    height: int
    mid: float = SRGB.mid
    darkest: float = float(SRGB.linear[1]) / 2
    shape: float | None = None


def meter(jpeg: bytes, curve: Curve = SRGB, regions: Sequence[Region] = (), shape: float | None = None) -> Reading:
    """Meter a JPEG of any size, grey, colour or CMYK: thumbnail, preview or live view.

    `shape` is the camera's picture, width by height, where earlier readings told it. Raises MeterError (no-picture,
    huge-picture, bad-picture) where it cannot be decoded.
    """
    picture = read_picture(jpeg, shape)
    height, width = picture.largest.shape
    light = np.take(curve.linear, picture.planes, mode="clip")  # quicker than "raise"; every code is in range
    luminance: Floats = (_WEIGHTS @ light.reshape(3, -1)).reshape(height, width)
    top, bottom = picture.largest >= TOP_CODE, picture.largest <= BOTTOM_CODE
    weights, blocks = _weights(height, width, tuple(regions))
    if weights is None:
        clipped, black = (float(np.count_nonzero(at) / at.size) for at in (top, bottom))
    else:
        luminance *= weights
        total = float(weights.sum(dtype=np.float64))
        clipped, black = (float(weights[at].sum(dtype=np.float64) / total) for at in (top, bottom))
    return Reading(
        level=_winsorised(_block_sums(luminance), blocks),
        clipped=clipped,
        black=black,
        width=width,
        height=height,
        mid=curve.mid,
        darkest=float(curve.linear[1]) / 2,
        shape=picture.shape,
    )


def scene_ev(reading: Reading, exposure_ev: float) -> float:
    """EV at ISO 100 of the scene from a picture and the EV of its exposure: what would have rendered it mid grey.

    A clipped or black picture gives a bound only; `Reading` says how much of it is. A picture without any light says no
    more than half of the first code.
    """
    return exposure_ev + math.log2(max(reading.level, reading.darkest) / reading.mid)


@dataclass(frozen=True, slots=True, eq=False)
class _Blocks:
    """Which blocks count at all, in one line, and the weights of those."""

    counting: NDArray[np.bool_]
    weight: NDArray[np.float64]


@lru_cache(maxsize=8)
def _weights(height: int, width: int, regions: tuple[Region, ...]) -> tuple[Floats | None, _Blocks]:
    """The weight of each pixel, None where all count 1; and of the blocks."""
    if not regions:
        return None, _blocks(np.ones((height, width), np.float32))
    weights = np.ones((height, width))
    for region in regions:
        inside = np.outer(_cover(region.top, region.bottom, height), _cover(region.left, region.right, width))
        weights += inside * (region.weight - weights)
    if weights.sum() <= 0:
        weights[:] = 1.0
    return weights.astype(np.float32), _blocks(weights.astype(np.float32))


def _blocks(weights: Floats) -> _Blocks:
    sums = _block_sums(weights).ravel().astype(np.float64)
    return _Blocks(sums > 0, sums[sums > 0])


def _cover(start: float, stop: float, count: int) -> NDArray[np.float64]:
    """How much of each of `count` pixels in a line lies between two fractions of it."""
    at = np.arange(count)
    cover: NDArray[np.float64] = np.clip(np.minimum(at + 1, stop * count) - np.maximum(at, start * count), 0.0, 1.0)
    return cover


def _block_sums(values: Floats) -> Floats:
    rows, columns = (_parts(size, most) for size, most in zip(values.shape, (_ROWS, _COLUMNS), strict=True))
    sums: Floats = rows.T @ (values @ columns)  # quicker than numpy's own sums over uneven parts
    return sums


@lru_cache(maxsize=32)
def _parts(size: int, most: int) -> Floats:
    """(size, parts): 1 where a line belongs to a part."""
    count = min(size, most)
    parts: Floats = (np.arange(size)[:, None] * count // size == np.arange(count)).astype(np.float32)
    return parts


def _winsorised(light: Floats, blocks: _Blocks) -> float:
    """Weighted mean of blocks, the brightest ones held down to the level below which 95 % of the weight lies."""
    level = light.ravel()[blocks.counting] / blocks.weight
    order = level.argsort()
    below = blocks.weight[order].cumsum()
    edge = level[order[below.searchsorted((1 - _BRIGHT_SHARE) * below[-1])]]
    return float(np.minimum(level, edge) @ blocks.weight / below[-1])
