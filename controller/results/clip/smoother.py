"""A smooth track through values that flicker, and how closely it may follow them.

Flicker is white from frame to frame and light is not: so second differences tell the flicker, and of tracks that follow
the light more and less closely the sum of what is left and of what flicker has bent tells the better one.

Pure: arrays in, arrays out.
"""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from controller.results.clip.over_gaps import Floats, OnSlots

PERIOD = 40.0  # frames; brightness that swings faster is flicker as a rule: 1.6 s of clip at 25 fps
_CLOSER = (28.0, 20.0, 14.0, 10.0, 7.0, 5.0, 4.0, 3.0)  # frames; where flicker cannot be the cause
_BENDS = np.pi / np.sqrt(
    2
)  # frames; of a value the smoother takes this over its period from itself: ∫(1 + x⁴)⁻¹ dx / 2
_CAUTION = 3.0  # the variance of a few frames is no sure figure
_AROUND = 161  # frames over which flicker is told
_BELL = 15.0  # frames; with three times as many to either side about a second of clip and two


def closer(values: Floats, weights: Floats, flicker: Floats, slots: OnSlots) -> Floats:
    """The track that follows light as closely as its `flicker`, a standard deviation for each slot, lets it.

    First tracks of several periods are mixed, each weighted by exp(−n·risk / 2σ²) of the n frames around (Leung &
    Barron, IEEE Trans. Inf. Theory 52 (2006) 3396), the risk being Mallows' C_L (Technometrics 15 (1973) 661): the mean
    square of what is left plus 2σ² times the share of a value that the track takes from itself. By how much the mixed
    track bends the strength is then told anew, place by place, so that it bends where light turned and not beside it
    (Storlie, Bondell & Reich, J. Comput. Graph. Stat. 19 (2010) 569: a penalty weighted by a first estimate's second
    derivative); and once more by the bends of both tracks, since by the second's alone flicker would bend the third.
    """
    periods = (PERIOD, *_CLOSER)
    tracks = np.array([whittaker(values, weights, strength(period)) for period in periods])
    near = slots.of_seen(_mean_around, weights)
    left = np.array([slots.of_seen(_mean_around, weights * (values - track) ** 2) / near for track in tracks])
    risk = left + 2 * _CAUTION * flicker**2 * (_BENDS / np.array(periods))[:, None]
    shares = np.exp(-(risk - risk.min(axis=0)) * _BELL * np.sqrt(4 * np.pi) / (2 * flicker**2))
    smooth = (shares * tracks).sum(axis=0) / shares.sum(axis=0)
    first = np.abs(np.diff(smooth, n=2)) / flicker[1:-1]
    smooth = whittaker(values, weights, 1 / (first**2 + 1 / strength(PERIOD)))
    again = np.abs(np.diff(smooth, n=2)) / flicker[1:-1]
    return whittaker(values, weights, 1 / (first * again + 1 / strength(PERIOD)))


def strength(period: float) -> float:
    """Of the smoother, so that half of a swing of so many frames passes."""
    return float((period / (2 * np.pi)) ** 4)


def bisquare(off: Floats, bound: Floats | float) -> Floats:
    """Tukey's weights, from 1 for what is on the track to almost 0 for what is off it by `bound` or more (Beaton &
    Tukey, Technometrics 16 (1974) 147)."""
    return np.asarray(np.maximum((1 - np.minimum(np.abs(off) / bound, 1) ** 2) ** 2, 1e-6))


def flicker_around(scene: Floats) -> Floats:
    """Its standard deviation around each frame, from second differences, of which clouds have hardly any."""
    inner = deviation_around(np.abs(np.diff(scene, n=2))) / np.sqrt(6)
    return np.asarray(np.maximum(np.pad(inner, 1, mode="edge"), 0.002))


def deviation_around(off: Floats) -> Floats:
    """The standard deviation around each frame that the median of absolute deviations stands for, were they normal."""
    width = min(_AROUND, off.size)
    width -= (width + 1) % 2
    starts = range(0, off.size - width + 1, 4096)  # whatever the number of frames, few are in memory as windows
    windows = (sliding_window_view(off[start : start + 4095 + width], width) for start in starts)
    inner = np.concatenate([np.median(window, axis=1) for window in windows])
    return np.asarray(1.4826 * np.pad(inner, width // 2, mode="edge"))


def _mean_around(values: Floats) -> Floats:
    """A moving average with Gauss' bell."""
    reach = int(3 * _BELL)
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / _BELL) ** 2)
    inside = slice(reach, reach + values.size)
    return np.asarray(np.convolve(values, bell)[inside] / np.convolve(np.ones_like(values), bell)[inside])


def whittaker(values: Floats, weights: Floats, stiff: Floats | float) -> Floats:
    """The z that minimises Σ weights·(values − z)² + Σ stiff·(second differences of z)² (Eilers, Anal. Chem. 75 (2003)
    3631), with one strength for all or one for each second difference.

    Solved as a banded L·D·Lᵀ system in time and memory that grow with the number of values; at least three.
    """
    size = values.size
    each = np.broadcast_to(stiff, (size - 2,))
    main, near, apart = weights.astype(float), np.zeros(size), np.zeros(size)
    for beside, factor in enumerate((1, 4, 1)):
        main[beside : size - 2 + beside] += factor * each
    near[: size - 2] -= 2 * each
    near[1 : size - 1] -= 2 * each
    apart[: size - 2] = each
    pivots, first, second, solved = main.tolist(), near.tolist(), apart.tolist(), (weights * values).tolist()
    for i in range(size):  # first, second: what becomes of the two diagonals below
        if i >= 1:
            pivots[i] -= pivots[i - 1] * first[i - 1] ** 2
            solved[i] -= first[i - 1] * solved[i - 1]
        if i >= 2:
            pivots[i] -= pivots[i - 2] * second[i - 2] ** 2
            solved[i] -= second[i - 2] * solved[i - 2]
        first[i] = (first[i] - (pivots[i - 1] * first[i - 1] * second[i - 1] if i >= 1 else 0.0)) / pivots[i]
        second[i] /= pivots[i]
    for i in range(size - 1, -1, -1):
        solved[i] /= pivots[i]
        if i + 1 < size:
            solved[i] -= first[i] * solved[i + 1]
        if i + 2 < size:
            solved[i] -= second[i] * solved[i + 2]
    return np.array(solved)
