"""What stands out of the light around it for a few frames: lightning, headlights. Not the peak of a passing cloud.

Pure: arrays in, arrays out.
"""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from controller.results.clip.over_gaps import Floats

_LONGEST = 7  # frames of a flash
_BESIDE = 6  # frames to either side that tell where light goes


def off_median(values: Floats) -> Floats:
    """How far each frame is off the running median: flashes are, clouds last longer."""
    side = min(_LONGEST, values.size - 1)
    padded = np.pad(values, side, mode="reflect")
    return np.abs(values - np.median(sliding_window_view(padded, 2 * side + 1), axis=1))


def off_lines(values: Floats) -> Floats:
    """How far each frame is off both lines, least squares' through the frames before a flash and through those after,
    for the flash that shows it most.

    All frames of it lie to one side of both. Where light turns, as behind a cloud's edge, each lies on one of them.
    """
    place = np.arange(_BESIDE) - (_BESIDE - 1) / 2
    beyond = _BESIDE + _LONGEST
    padded = np.pad(values, beyond, mode="reflect", reflect_type="odd")
    windows = sliding_window_view(padded, _BESIDE)
    middle, slope = windows.mean(axis=1), windows @ place / (place @ place)
    most = np.zeros_like(values)
    for length in range(1, min(_LONGEST, values.size) + 1):
        first = np.arange(values.size - length + 1)
        before, after = first + beyond - _BESIDE, first + beyond + length
        above, below = np.full(first.size, np.inf), np.full(first.size, np.inf)
        for frame in range(length):
            ahead, back = frame - place[0] + 1, length - frame - place[0]
            for line in (middle[before] + slope[before] * ahead, middle[after] - slope[after] * back):
                off = values[first + frame] - line
                above, below = np.minimum(above, off), np.minimum(below, -off)
        for frame in range(length):
            there = slice(frame, frame + first.size)
            most[there] = np.maximum(most[there], np.maximum(above, below))
    return most
