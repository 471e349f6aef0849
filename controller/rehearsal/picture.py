"""What metering would read from a picture of a scene of so many EV: numbers instead of a JPEG."""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from controller.decide.meter import BOTTOM_CODE, MID_CODE, SRGB, TOP_CODE, Reading

_FROM_EV, _TO_EV, _STEPS = -14.0, 12.0, 16  # over- and underexposure that is worked out, and points for each EV
_FINE = 256  # readings told apart for each EV
_CONTRAST_EV = 0.9  # how far the parts of a scene differ, EV rms; common practice, no source
_PARTS = 201


def reading(over_ev: float) -> Reading:
    """The reading of a picture `over_ev` brighter than mid grey, through the sRGB curve and its 256 codes.

    A scene of log-normal parts: far over, most of it is clipped and the level is a bound; far under, it is black.
    """
    return _reading(round(over_ev * _FINE))


@lru_cache(maxsize=8192)
def _reading(over: int) -> Reading:
    levels, clipped, black = _table()
    at = (min(max(over / _FINE, _FROM_EV), _TO_EV) - _FROM_EV) * _STEPS
    before = min(int(at), len(levels) - 2)
    share = at - before
    level = math.exp(levels[before] + share * (levels[before + 1] - levels[before]))
    return Reading(
        level,
        clipped[before] + share * (clipped[before + 1] - clipped[before]),
        black[before] + share * (black[before + 1] - black[before]),
        160,
        120,
    )


@lru_cache(maxsize=1)
def _table() -> tuple[list[float], list[float], list[float]]:
    """Logarithms of levels, and shares of clipped and black pixels, at each point.

    Codes are dithered by a sensor's noise, so that their mean is not coarser than the light.
    """
    rank = (np.arange(_PARTS) + 0.5) / _PARTS
    parts = np.exp2(_CONTRAST_EV * np.array([NormalDist().inv_cdf(r) for r in rank.tolist()]))
    parts /= parts.mean()
    linear = np.asarray(SRGB.linear, dtype=np.float64)
    levels, clipped, black = [], [], []
    for over_ev in np.arange(round((_TO_EV - _FROM_EV) * _STEPS) + 1) / _STEPS + _FROM_EV:
        light = np.clip(linear[MID_CODE] * 2.0**over_ev * parts, 0.0, 1.0)
        code = np.interp(light, linear, np.arange(256.0))
        levels.append(math.log(max(float(light.mean()), float(linear[1]) / 2)))
        clipped.append(float((code >= TOP_CODE - 0.5).mean()))
        black.append(float((code < BOTTOM_CODE + 0.5).mean()))
    return levels, clipped, black
