"""How long a battery lasts by the fall of its percent, as it was seen so far. Moments are seconds that never step.

A body tells whole percent, or no more than four or five levels, and nobody knows where within a level it was at first.
So the fall is measured from one new low to a later one: between those as much was drained as the figures say. The last
ten percent count, and at least the last two lows, so that a colder night or longer exposures are soon in it.
"""

from __future__ import annotations

from dataclasses import dataclass

_JITTER = 5  # points by which a percent may rise as a battery rests; more is another battery, or one being charged
_OTHER = 34  # points that no body's level is large: another battery
_RECENT = 10  # points
_KNOWN = 3  # points that tell the fall once they took _KNOWN_S; _LONG_S tell it in any case
_KNOWN_S, _LONG_S = 600.0, 1800.0
_KEPT = 100
_STILL = 3.0  # times as long without a new low as one should have taken: it falls no more


@dataclass(frozen=True, slots=True)
class Fall:
    """The first reading and each new low since then, with their moments."""

    lows: tuple[tuple[float, int], ...] = ()


def heard(fall: Fall, at_mono: float, percent: int) -> Fall:
    """Take in a reading; with another battery, or one that was charged, all begins anew."""
    if not fall.lows:
        return Fall(((at_mono, percent),))
    lowest = fall.lows[-1][1]
    if percent > lowest + _JITTER or percent < lowest - _OTHER:
        return Fall(((at_mono, percent),))
    return fall if percent >= lowest else Fall((*fall.lows, (at_mono, percent))[-_KEPT:])


def hours_left(fall: Fall, now_mono: float) -> float | None:
    """Hours until 0 %; None until the fall is known, and where there is none, as on mains.

    Known it is from two new lows on that are 3 points and 10 minutes apart, or 30 minutes. Where the next low is
    overdue it is taken to come now, so that a slower fall is seen before it.
    """
    lows = fall.lows[1:]  # the first reading is no new low: the percent was that for nobody knows how long
    if len(lows) < 2:
        return None
    last_mono, last = lows[-1]
    first_mono, first = next(low for low in lows if low[1] <= last + _RECENT or low == lows[-2])
    fell, took_s = first - last, last_mono - first_mono
    if not ((fell >= _KNOWN and took_s >= _KNOWN_S) or took_s >= _LONG_S):
        return None
    step, since_s = lows[-2][1] - last, now_mono - last_mono
    due_s = step * took_s / fell
    if since_s <= due_s:
        return (last * took_s / fell - since_s) / 3600
    if since_s > max(_STILL * due_s, _LONG_S):
        return None
    return max(0, last - step) * (took_s + since_s) / (fell + step) / 3600
