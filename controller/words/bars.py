"""Black bars around a picture that lies in one of another shape.

A DCF thumbnail is 160 × 120 whatever the shape of the picture (CIPA DC-009), so that a 3:2 picture lies in it between
black bars.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Codes = NDArray[np.uint8]

_SHAPES = (3 / 2, 16 / 9, 4 / 3, 1.0, 5 / 4)
"""Shapes that cameras give their pictures, the most usual first."""

_LONGEST_BAR = 0.17  # of the height or width: a square picture in one of 3:2
_SEGMENTS = 8
_NO_BAR = 60  # a code that no bar has
_BESIDE = 4  # lines whose light rings into a bar, at the edge of JPEG's blocks
_DARK, _RINGING = 6.0, 0.08  # a bar's codes: what quantisation leaves of black, and of the picture's edge beside it
_LUMA = np.array([0.299, 0.587, 0.114], np.float32)  # JFIF's, after ITU-R BT.601
_NEAR_PX = 1.5  # a bar's end in a picture that was scaled and compressed


def bar_beside(height: int, width: int, shape: float) -> tuple[float, int]:
    """Length in pixels of each of the two bars around a picture of `shape`; axis 0 is above and below, 1 beside."""
    if shape * height > width:
        return (height - width / shape) / 2, 0
    return (width - shape * height) / 2, 1


def shape_between_bars(planes: Codes, known: float | None = None) -> float | None:
    """The shape of the picture between two bars; None where there are none, or a black night leaves it open.

    Bars are a pair, black over their whole length, and of the length that one of the usual shapes asks for. That one
    ends where the picture begins tells it from a picture that is black at its edges. Where the shape is known no such
    end is needed, only black where its bars must be.
    """
    height, width = planes.shape[1:]
    dark: dict[int, tuple[int, int]] = {}
    for shape in _SHAPES if known is None else (known,):
        bar, axis = bar_beside(height, width, shape)
        if not 2 <= bar <= _LONGEST_BAR * planes.shape[1 + axis]:
            continue
        if axis not in dark:
            dark[axis] = _dark_ends(planes if axis == 0 else planes.transpose(0, 2, 1))
        ends = dark[axis]
        if min(ends) < bar - _NEAR_PX:
            continue
        if known is not None or any(end < bar + _NEAR_PX for end in ends):
            return shape
    return None


def _dark_ends(lines: Codes) -> tuple[int, int]:
    """How many lines (planes, lines, length) at each end are black over their whole length."""
    green = lines[1]
    if green[0].max() > _NO_BAR or green[-1].max() > _NO_BAR:
        return 0, 0  # the usual case without bars, told at little cost
    depth = min(math.ceil(_LONGEST_BAR * green.shape[0]) + 2 + _BESIDE, green.shape[0])
    # Told by luma: JPEG keeps colour at half the resolution, and lets it run further into a bar.
    ends = np.empty((3, 2, depth, green.shape[1]), np.float32)
    ends[:, 0], ends[:, 1] = lines[:, :depth], lines[:, ::-1][:, :depth]
    parts = ends.reshape(-1, green.shape[1]) @ _segments(green.shape[1])
    level = (_LUMA @ parts.reshape(3, -1)).reshape(2, depth, -1).max(axis=2)
    return _dark_lines(level[0]), _dark_lines(level[1])


def _dark_lines(level: NDArray[np.float32]) -> int:
    """Lines from the first on whose brightest segment is black; a lamp on a dark quay is not. The last are not told."""
    most = max(0, len(level) - _BESIDE)
    beside = level[1 : most + 1]
    for after in range(2, _BESIDE + 1):
        beside = np.maximum(beside, level[after : most + after])
    lit = (level[:most] > _DARK + _RINGING * beside).nonzero()[0]
    return int(lit[0]) if lit.size else most


@lru_cache(maxsize=8)
def _segments(length: int) -> NDArray[np.float32]:
    """(length, segments): the mean of each segment of a line, as a product."""
    count = min(_SEGMENTS, length)
    of = np.arange(length) * count // length
    means: NDArray[np.float32] = (of[:, None] == np.arange(count)).astype(np.float32)
    means /= means.sum(axis=0)
    return means
