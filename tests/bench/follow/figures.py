"""What is counted of a track, and the table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.bench.follow.contenders import Track
from tests.bench.follow.light import Floats
from tests.bench.follow.scenes import Scene

START_FRAMES = 5  # the issue's: after these, any start is over
_CLIPPED = 0.005  # of the scene; less is a lamp or the sun's disc
_TREND_S = 900.0


@dataclass(frozen=True)
class Figures:
    """EV unless said otherwise; the first five frames are the start's, and count only for `started_ev` and `fits`."""

    frames: int
    p95_ev: float  # |measured − target|
    rms_ev: float
    reversals: int  # changes of direction of the exposure
    clipped: int  # frames with more than 0.5 % of the scene beyond saturation
    trend_ev: float  # rms against the target's 15-minute mean
    started_ev: float  # worst error of frames 6 to 10
    fits: bool  # exposure + gap ≤ interval on every frame
    hunting: int  # changes of direction of the interval


def figures(scene: Scene, track: Track, *, as_metered: bool = False) -> Figures:
    """`as_metered`: errors as the meter shows them, for a body whose curve is not known."""
    utc, ev, target = track.arrays()
    off = np.array(track.metered_ev) if as_metered else target - ev
    errors = np.abs(off[START_FRAMES:])
    smooth = trend(utc, target)
    gap = scene.plan.pace.min_gap_s
    fits = all(s + gap <= i + 1e-9 for s, i in zip(track.shutter_s, track.interval_s, strict=True))
    return Figures(
        frames=len(ev),
        p95_ev=float(np.percentile(errors, 95)),
        rms_ev=_rms(errors),
        reversals=reversals(ev[START_FRAMES:]),
        clipped=int(sum(c > _CLIPPED for c in track.clipped[START_FRAMES:])),
        trend_ev=_rms((ev - smooth)[START_FRAMES:]),
        started_ev=float(errors[:5].max()),
        fits=fits,
        hunting=reversals(np.log(np.array(track.interval_s[START_FRAMES:])), 1e-4),
    )


def reversals(values: Floats, least: float = 1e-6) -> int:
    """Changes of direction of a series; steps smaller than `least` are none."""
    steps = np.diff(values)
    signs = np.sign(steps[np.abs(steps) > least])
    return int(np.sum(signs[1:] != signs[:-1]))


def trend(utc: Floats, values: Floats) -> Floats:
    """The mean over the 15 minutes around each moment, weighed by time."""
    grid = np.arange(utc[0], utc[-1] + 1, 5.0)
    sums = np.concatenate([[0.0], np.cumsum(np.interp(grid, utc, values))])
    low = np.clip(np.searchsorted(grid, utc - _TREND_S / 2), 0, len(grid) - 1)
    high = np.clip(np.searchsorted(grid, utc + _TREND_S / 2), 1, len(grid))
    return (sums[high] - sums[low]) / (high - low)


def _rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(np.square(values))))
