"""Date, time and the sun's altitude burnt into a clip: small, and light with a dark edge for snow and for night."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from controller.words.documents import Frame

_SAFE = 0.05  # of each edge is left free: SMPTE ST 2046-1 has titles within the inner 90 % of width and height
_HEIGHT = 1 / 40  # of a line, of the clip's short edge: 27 pixels of 1080
_SMALLEST = 10  # pixels, below which figures cannot be read
_INK, _EDGE = 0.94, 0.06  # of full code; not the ends, which players clip

Codes = NDArray[np.uint8] | NDArray[np.uint16]
Shares = NDArray[np.float32]


def lines(frame: Frame, zone: ZoneInfo, burn: Collection[str]) -> list[str]:
    """What is burnt into a frame, of "time" and "sun": `2026-12-01 16:05:09 CET`, `sun -3.2°`.

    The moment is that of the release, or the one when it was due; what is not known is left out.
    """
    found = []
    if "time" in burn:
        at = frame.released_utc if frame.released_utc is not None else frame.due_utc
        found.append(datetime.fromtimestamp(at, zone).strftime("%Y-%m-%d %H:%M:%S %Z"))
    if "sun" in burn and frame.sun_altitude_deg is not None:
        found.append(f"sun {frame.sun_altitude_deg:.1f}°".replace("-0.0", "0.0"))
    return found


def burn(image: Image.Image, lines: Sequence[str]) -> None:
    """Write lines into the lower left corner of an RGB image of 8 bits."""
    if lines:
        left, upper, ink, edge = _layer(image.size, tuple(lines))
        box = (left, upper, left + ink.shape[1], upper + ink.shape[0])
        part = np.array(image.crop(box))
        _mix(part, ink, edge, 255)
        image.paste(Image.fromarray(part), box)


def burn_codes(codes: Codes, lines: Sequence[str], white: int = 255) -> None:
    """The same into an array of codes (height, width, 3), in place; `white` is the code of the lightest."""
    if lines:
        left, upper, ink, edge = _layer((codes.shape[1], codes.shape[0]), tuple(lines))
        part = codes[upper : upper + ink.shape[0], left : left + ink.shape[1]]
        _mix(part, ink, edge, white)


def _mix(part: Codes, ink: Shares, edge: Shares, white: int) -> None:
    drawn = part * (1 - edge[..., None]) + _EDGE * white * edge[..., None]
    drawn = drawn * (1 - ink[..., None]) + _INK * white * ink[..., None]
    part[...] = np.round(drawn)


@lru_cache(maxsize=4)
def _layer(size: tuple[int, int], lines: tuple[str, ...]) -> tuple[int, int, Shares, Shares]:
    """Left and upper edge of the text, and how much of each of its pixels is ink, and edge around it, 0…1."""
    width, height = size
    tall = max(_SMALLEST, round(min(size) * _HEIGHT))
    font = ImageFont.load_default(tall)  # it is inside Pillow, so that every rig has it; its hyphen serves as minus
    stroke = max(1, tall // 9)
    pace = round(1.4 * tall)
    w = round(max(font.getlength(line) for line in lines)) + 2 * stroke + 1
    h = pace * len(lines) + 2 * stroke
    masks: list[Shares] = []
    for around in (0, stroke):
        mask = Image.new("L", (w, h))
        for number, line in enumerate(lines):
            ImageDraw.Draw(mask).text((stroke, stroke + number * pace), line, 255, font, stroke_width=around)
        masks.append(np.asarray(mask, np.float32) / np.float32(255))
    ink, edge = masks
    x, y = round(width * _SAFE), max(height - round(height * _SAFE) - h, 0)
    return x, y, ink[: height - y, : width - x], edge[: height - y, : width - x]
