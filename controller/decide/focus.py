"""How sharp a picture is and how its light is spread: figures for framing and focusing by live view. Pure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from controller.decide.meter import SRGB, WEIGHTS, Curve
from controller.decide.picture import read_picture

STOPS = 10
"""Stops of light below saturation that the histogram tells apart; what is darker counts to the last."""

_DARK = 0.02  # of saturation: the light that noise alone may have, so that a black frame is not called sharp
_WEIGHTS = np.array(WEIGHTS, np.float32)


@dataclass(frozen=True, slots=True)
class Framing:
    """`sharpness` has no unit and is compared with itself while the lens is turned: it is highest in focus.

    `histogram` holds shares of the picture by linear light, from the brightest stop below saturation downwards;
    `clipped` and `black` are shares at either end.
    """

    sharpness: float
    histogram: tuple[float, ...]
    clipped: float
    black: float


def sharpness(light: NDArray[np.float32]) -> float:
    """Of a picture in linear light (height, width), 1 at the top.

    The energy of its gradient over the square of its mean (the energy-of-gradient measure: Subbarao, Choi & Nikzad,
    Optical Engineering 32 (1993) 2824, from memory), so that neither exposure nor the number of pixels matters. It
    holds for stars too: a defocused star spreads the same light over more pixels, whose squares sum to less.
    """
    across, down = np.diff(light, axis=1), np.diff(light, axis=0)
    energy = float(np.mean(across**2) + np.mean(down**2))
    return energy / (float(light.mean()) + _DARK) ** 2


def framing(jpeg: bytes, curve: Curve = SRGB, part: tuple[float, float, float, float] = (0, 0, 1, 1)) -> Framing:
    """The figures of a part of a picture: left, top, right and bottom as fractions of it. Raises MeterError.

    `sharpness` tells which measure it is.
    """
    planes = read_picture(jpeg, whole=True).planes
    height, width = planes.shape[1:]
    left, top, right, bottom = part
    rows = slice(int(top * height), max(int(top * height) + 2, round(bottom * height)))
    columns = slice(int(left * width), max(int(left * width) + 2, round(right * width)))
    cut = planes[:, rows, columns]
    light = np.tensordot(_WEIGHTS, curve.linear[cut], 1)
    brightest = cut.max(axis=0)
    edges = 2.0 ** -np.arange(STOPS - 1, -1, -1)
    stops = np.searchsorted(edges, light.ravel(), side="right")
    counts = np.bincount(np.minimum(stops, STOPS - 1), minlength=STOPS)[::-1] / light.size
    return Framing(
        sharpness=sharpness(light),
        histogram=tuple(float(share) for share in counts),
        clipped=float((brightest >= 254).mean()),
        black=float((brightest <= 2).mean()),
    )
