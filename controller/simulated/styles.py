"""Picture styles: the tone curves between light on the sensor and the 8-bit code in the JPEG.

    y = (1 + a) · f^b / (f^b + a)        code = 255 · y

f is the light as a fraction of saturation, b the contrast; a follows from mid grey, 12.7 % of saturation (ISO 12232),
being code 118. It is an S over log f and can be inverted on paper: f^b = a · y / (1 + a − y).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

MID_GREY, MID_CODE = 0.127, 118
CONTRAST = {"standard": 0.80, "flat": 0.64, "vivid": 0.95}
Floats = NDArray[np.float64]


def curves(style: str) -> tuple[Callable[[Floats], Floats], Callable[[Floats], Floats]]:
    """The curve of a style, from fraction of saturation to code (not rounded), and its inverse."""
    b = CONTRAST[style]
    grey, y_grey = MID_GREY**b, MID_CODE / 255
    a = grey * (1 - y_grey) / (y_grey - grey)

    def forward(f: Floats) -> Floats:
        powered = np.clip(f, 0, 1) ** b
        return np.asarray(255 * (1 + a) * powered / (powered + a))

    def backward(code: Floats) -> Floats:
        y = np.asarray(code) / 255
        return np.asarray((a * y / (1 + a - y)) ** (1 / b))

    return forward, backward
