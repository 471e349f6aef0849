"""From a JPEG to the codes of its picture: decoded small, and without the black bars around it.

A DCF thumbnail is 160 × 120 whatever the shape of the picture (CIPA DC-009), so that a 3:2 picture lies in it between
black bars. Metered along, they would darken the scene by a sixth of a stop, and by another amount in another body.
"""

from __future__ import annotations

import io
import math
import struct
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from PIL.JpegImagePlugin import JpegImageFile

from controller.words.errors import DuskhandError

Codes = NDArray[np.uint8]

_ENOUGH_PIXELS = 320 * 240
_MOST_PIXELS = 400_000_000
_MOST_PROGRESSIVE = 36_000_000  # samples: held in memory whole while it is decoded, 2 bytes each
_MOST_PER_BYTE = 600  # pixels: a block of 64 takes at least a bit for its mean (ITU-T T.81, annex F)
_GREY = 128  # what libjpeg puts in place of blocks that are not there
_TAIL_ROWS = 8
# what Pillow raises on broken files, apart from its documented OSError and SyntaxError
_BROKEN = (OSError, SyntaxError, ValueError, struct.error, IndexError, KeyError, TypeError, EOFError, AttributeError)
_CHECK = "Look at the picture on the camera; the exposure follows the sky model meanwhile"

_SHAPES = (3 / 2, 16 / 9, 4 / 3, 1.0, 5 / 4)
"""Shapes that cameras give their pictures, the most usual first."""

_LONGEST_BAR = 0.17  # of the height or width: a square picture in one of 3:2
_SEGMENTS = 8
_NO_BAR = 60  # a code that no bar has
_BESIDE = 4  # lines whose light rings into a bar, at the edge of JPEG's blocks
_DARK, _RINGING = 6.0, 0.08  # a bar's codes: what quantisation leaves of black, and of the picture's edge beside it
_LUMA = np.array([0.299, 0.587, 0.114], np.float32)  # JFIF's, after ITU-R BT.601
_NEAR_PX = 1.5  # a bar's end in a picture that was scaled and compressed


class MeterError(DuskhandError):
    """A picture that cannot be metered; the shoot goes on with the prediction."""


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A picture without bars: `planes` (3, height, width) are its codes, `largest` (height, width) the largest of the
    three; `shape` is width by height where bars gave it away, else None."""

    planes: Codes
    largest: Codes
    shape: float | None = None


def read_picture(jpeg: bytes, shape: float | None = None, *, whole: bool = False) -> Picture:
    """Decode a JPEG, large ones at a fraction of their size unless `whole`, and take its bars off.

    `shape` is the camera's picture, width by height, where it is known: then bars are found in a black night too.
    Raises MeterError: no-picture (nothing there), huge-picture (larger than any camera's), bad-picture.
    """
    planes = np.ascontiguousarray(_decode(jpeg, whole).transpose(2, 0, 1))
    largest = np.maximum(np.maximum(planes[0], planes[1]), planes[2])
    found = _shape_between_bars(planes, shape)
    if found is None:
        return Picture(planes, largest)
    bar, axis = _bar(largest.shape[0], largest.shape[1], found)
    keep = slice(math.ceil(bar), largest.shape[axis] - math.ceil(bar))
    inside = (keep, slice(None)) if axis == 0 else (slice(None), keep)
    return Picture(planes[:, *inside], largest[inside], found)


def _decode(jpeg: bytes, whole: bool = False) -> Codes:
    if not jpeg:
        raise MeterError("no-picture", "the camera gave no small picture", remedy=_CHECK)
    try:
        picture = JpegImageFile(io.BytesIO(jpeg))
        pixels = picture.width * picture.height
        samples = pixels * len(picture.getbands())
        huge = pixels > _MOST_PIXELS or (picture.info.get("progressive") and samples > _MOST_PROGRESSIVE)
        if huge or pixels > _MOST_PER_BYTE * len(jpeg):
            size = f"{picture.width}×{picture.height} pixels"
            what = f"{size} are more than any camera's" if huge else f"{size} do not fit into {len(jpeg)} bytes"
            raise MeterError("huge-picture", what, remedy=_CHECK)
        if pixels > 4 * _ENOUGH_PIXELS and not whole:
            shrink = math.sqrt(pixels / _ENOUGH_PIXELS)
            picture.draft("RGB", (max(1, int(picture.width / shrink)), max(1, int(picture.height / shrink))))
        colour: Image.Image = picture if picture.mode == "RGB" else picture.convert("RGB")
        codes = np.asarray(colour, dtype=np.uint8)
    except _BROKEN as error:
        raise MeterError("bad-picture", f"the picture cannot be decoded: {error}", remedy=_CHECK) from error
    if codes.ndim != 3 or codes.size == 0:
        raise MeterError("bad-picture", "the picture is empty", remedy=_CHECK)
    filled = codes.shape[0] > 2 * _TAIL_ROWS and (codes[-_TAIL_ROWS:] == _GREY).all()
    if filled and not (codes == _GREY).all():
        raise MeterError("bad-picture", "the picture ends before its last rows", remedy=_CHECK)
    return codes


# ---- bars


def _bar(height: int, width: int, shape: float) -> tuple[float, int]:
    """Length in pixels of each of the two bars around a picture of `shape`; axis 0 is above and below, 1 beside."""
    if shape * height > width:
        return (height - width / shape) / 2, 0
    return (width - shape * height) / 2, 1


def _shape_between_bars(planes: Codes, known: float | None) -> float | None:
    """The shape of the picture between two bars; None where there are none, or a black night leaves it open.

    Bars are a pair, black over their whole length, and of the length that one of the usual shapes asks for. That one
    ends where the picture begins tells it from a picture that is black at its edges. Where the shape is known no such
    end is needed, only black where its bars must be.
    """
    height, width = planes.shape[1:]
    dark: dict[int, tuple[int, int]] = {}
    for shape in _SHAPES if known is None else (known,):
        bar, axis = _bar(height, width, shape)
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
