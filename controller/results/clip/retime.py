"""A clip whose time runs evenly, whatever the intervals were: which pictures each of its frames shows.

Pure: numbers in, numbers out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from controller.words.errors import BadInput

_FADE_S = 2.0  # of the clip: a gap that takes longer is a break between windows, and passes like one interval
_BREAK = 4.0  # and so many intervals
MOST = 250  # frames that a picture may stand for on average, ten seconds of 25 fps (common practice, no source)


def shown(times: Sequence[float], fps: float, scene_s_per_s: float, blend: bool) -> Iterator[tuple[int, int, float]]:
    """For each frame of the clip: the place of the earlier picture, of the later, and the later's share (0…1).

    `times` are the pictures' moments in seconds, in order. Frame k shows the moment `k · scene_s_per_s / fps` after the
    first. Without `blend` it is the picture nearest to it, as (place, place, 0.0). Missed slots are faded over, or the
    picture before stands until the one after is nearer; breaks between windows pass in one interval.
    """
    if len(times) == 0:
        return
    clock = scene_clock(times, scene_s_per_s)
    step = scene_s_per_s / fps
    count = int(clock[-1] / step + 1e-9) + 1
    last = len(clock) - 1
    for number in range(count):
        moment = number * step
        later = min(int(np.searchsorted(clock, moment, side="right")), last)
        earlier = max(later - 1, 0)
        span = clock[later] - clock[earlier]
        share = min(max((moment - clock[earlier]) / span, 0.0), 1.0) if span > 0 else 0.0
        if blend and 1e-6 < share < 1 - 1e-6:
            yield earlier, later, float(share)
        else:
            nearest = later if share >= 0.5 else earlier
            yield nearest, nearest, 0.0


def count(times: Sequence[float], fps: float, scene_s_per_s: float) -> int:
    """How many frames `shown` gives."""
    return int(scene_clock(times, scene_s_per_s)[-1] * fps / scene_s_per_s + 1e-9) + 1 if len(times) else 0


def check(times: Sequence[float], fps: float, scene_s_per_s: float) -> None:
    """Raises BadInput where so slow a film would hardly move, and take days and a disk to make."""
    each = count(times, fps, scene_s_per_s) / max(len(times), 1)
    if each > MOST:
        least = float(f"{scene_s_per_s * each / MOST * 1.1:.1g}")
        what = f"each picture would stand for {each:,.0f} frames, and {MOST} are the most"
        raise BadInput("bad-clip", what, "scene_s_per_s", f"Show more of the scene in a second: {least:g} s")


def usual(times: Sequence[float], fps: float) -> float:
    """Seconds of the scene in a second of the clip at which a steady shoot would show each picture once."""
    steps = _steps(times)
    return float(np.median(steps)) * fps if steps.size else 1.0


def scene_clock(times: Sequence[float], scene_s_per_s: float) -> NDArray[np.float64]:
    """Seconds since the first picture, without the breaks between windows; a clock that was set back stands still."""
    steps = np.maximum(np.diff(np.asarray(times, float)), 0.0)
    usual_s = _steps(times)
    if usual_s.size == 0:
        return np.zeros(len(times))
    median = float(np.median(usual_s))
    beside = np.pad(steps, 1, constant_values=median)
    near = np.maximum(np.minimum(beside[:-2], beside[2:]), median)
    breaks = steps > np.maximum(_BREAK * near, _FADE_S * scene_s_per_s)
    return np.concatenate([[0.0], np.cumsum(np.where(breaks, near, steps))])


def _steps(times: Sequence[float]) -> NDArray[np.float64]:
    steps = np.diff(np.asarray(times, float))
    return steps[steps > 0]


def mix(earlier: NDArray[np.uint16], later: NDArray[np.uint16], share: float) -> NDArray[np.uint16]:
    """Two pictures in linear light laid over each other, as a shutter that was open for parts of both would."""
    weight = round(share * 65536)
    mixed = earlier.astype(np.uint32) * (65536 - weight) + later.astype(np.uint32) * weight + 32768
    return (mixed >> 16).astype(np.uint16)
