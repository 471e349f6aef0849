"""From a JPEG to the codes of its picture: decoded small, and without the black bars around it.

A DCF thumbnail is 160 × 120 whatever the shape of the picture, so that a 3:2 picture lies in it between
black bars. Metered along, they would darken the scene by a sixth of a stop, and by another amount in another body.
"""

from __future__ import annotations

import io
import math
import struct
from dataclasses import dataclass

import numpy as np
from PIL import Image
from PIL.JpegImagePlugin import JpegImageFile

from controller.words.bars import Codes, bar_beside, shape_between_bars
from controller.words.errors import DuskhandError

_ENOUGH_PIXELS = 320 * 240
_MOST_PIXELS = 400_000_000
_MOST_PROGRESSIVE = 36_000_000  # samples: held in memory whole while it is decoded, 2 bytes each
_MOST_PER_BYTE = 600  # pixels: a block of 64 takes at least a bit for its mean (ITU-T T.81, annex F)
_GREY = 128  # what libjpeg puts in place of blocks that are not there
_TAIL_ROWS = 8
# what Pillow raises on broken files, apart from its documented OSError and SyntaxError
_BROKEN = (OSError, SyntaxError, ValueError, struct.error, IndexError, KeyError, TypeError, EOFError, AttributeError)
_CHECK = "Look at the picture on the camera; the exposure follows the sky model meanwhile"


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
    found = shape_between_bars(planes, shape)
    if found is None:
        return Picture(planes, largest)
    bar, axis = bar_beside(largest.shape[0], largest.shape[1], found)
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
