"""A canvas for things that stand by the water: each shape is drawn once upright and once mirrored at its waterline."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

Planes = NDArray[np.float32]
Point = tuple[float, float]
Colour = tuple[float, float, float]
Waterline = float | Callable[[float], float] | None
#: All drawing is in units of a picture of this size; the horizon is at 62 % of the height.
UNITS = 1620, 1080
_OVERSAMPLE = 2


@dataclass(frozen=True)
class Lamp:
    """A thing that shines: middle and size in units, luminance in cd/m²; `lit_below` is a sun altitude in degrees.

    `soft` ones are pools of light on the ground. `blink_s` is (period, on) of a beacon.
    """

    x: float
    y: float
    width: float
    height: float
    luminance: float
    colour: Colour
    lit_below: float
    waterline: float | None = None
    soft: bool = False
    blink_s: tuple[float, float] | None = None


@dataclass(frozen=True)
class Layer:
    """`cover` (rows, width): share of what is behind that is hidden; `albedo` (3, rows, width), times cover."""

    cover: Planes
    albedo: Planes


def _code(colour: Colour, opaque: float) -> tuple[int, int, int, int]:
    # Square roots keep the dark albedos apart in 8 bits.
    red, green, blue = (round(255 * max(0.0, min(1.0, v)) ** 0.5) for v in colour)
    return red, green, blue, round(255 * opaque)


class Canvas:
    """Painter's order: far things first."""

    def __init__(self, width: int, height: int) -> None:
        self._size = width, height
        big = width * _OVERSAMPLE, height * _OVERSAMPLE
        self._scale = big[0] / UNITS[0], big[1] / UNITS[1]
        self._images = [Image.new("RGBA", big) for _ in range(2)]
        self._draws = [ImageDraw.Draw(image) for image in self._images]
        self.lamps: list[Lamp] = []

    def _at(self, points: Sequence[Point], waterline: Waterline = None) -> list[Point]:
        out = []
        for x, y in points:
            if waterline is not None:
                y = 2 * (waterline(x) if callable(waterline) else waterline) - y
            out.append((x * self._scale[0], y * self._scale[1]))
        return out

    def polygon(self, points: Sequence[Point], colour: Colour, water: Waterline = None, opaque: float = 1.0) -> None:
        """Fill a polygon; with a waterline its mirror image lies in the water too."""
        fill = _code(colour, opaque)
        self._draws[0].polygon(self._at(points), fill=fill)
        if water is not None:
            # Upright as well: ripples may look past the waterline, and see what stands there.
            self._draws[1].polygon(self._at(points), fill=fill)
            self._draws[1].polygon(self._at(points, water), fill=fill)

    def box(self, x: float, y: float, width: float, height: float, colour: Colour, water: Waterline = None) -> None:
        """A rectangle by its upper left corner."""
        self.polygon([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], colour, water)

    def line(self, points: Sequence[Point], width: float, colour: Colour, water: Waterline = None) -> None:
        thick = max(1, round(width * self._scale[0]))
        self._draws[0].line(self._at(points), fill=_code(colour, 1), width=thick)
        if water is not None:
            self._draws[1].line(self._at(points, water), fill=_code(colour, 1), width=thick)

    def lamp(self, lamp: Lamp) -> None:
        self.lamps.append(lamp)

    def layers(self, texture: Planes) -> tuple[Layer, Layer]:
        """What was drawn, upright and mirrored, at the picture's size; `texture` (any size, about 1) roughens it."""
        grain = np.asarray(Image.fromarray(texture).resize(self._size, Image.Resampling.BILINEAR))
        upright, mirrored = (self._layer(image, grain) for image in self._images)
        return upright, mirrored

    def _layer(self, image: Image.Image, grain: Planes) -> Layer:
        small = np.asarray(image.resize(self._size, Image.Resampling.BOX), np.float32) * np.float32(1 / 255)
        cover = np.ascontiguousarray(small[..., 3])
        albedo: Planes = np.stack([small[..., c] ** 2 * cover * grain for c in range(3)])
        return Layer(cover, albedo)
