"""Stretches of a window in which something is so, and how they are said."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from controller.decide.advice.ahead import Ahead, minute, stretch
from controller.decide.forecast import Point
from controller.decide.plan import Plan
from controller.words.phrases import count, signed

_APART_S = 900.0  # what comes again within that is one stretch
_MOST_STRETCHES = 2


def span(
    plan: Plan, ahead: Ahead, is_so: Callable[[Point], bool], *, open_end: bool = True
) -> tuple[list[Point], str] | None:
    """The points for which something is so, and how those stretches are said: 'from 19:40 (sun −9.0°) on'.

    With `open_end` a stretch that lasts to the window's end is said to go on.
    """
    inside = [point for point in ahead.points if point.utc <= ahead.end_utc]
    found = [point for point in inside if is_so(point)]
    if not found:
        return None
    stretches = [[found[0]]]
    for before, after in pairwise(found):
        if after.utc - before.utc > _APART_S:
            stretches.append([])
        stretches[-1].append(after)
    texts = []
    for points in stretches[:_MOST_STRETCHES]:
        first, last = points[0], points[-1]
        sun = f" (sun {signed(first.sun_altitude_deg, '°')})"
        if open_end and last is inside[-1]:
            texts.append(f"from {minute(plan, first.utc, ahead.begin_utc)}{sun} on")
        else:
            texts.append(stretch(plan, first.utc, last.utc, ahead.begin_utc, sun))
    more = len(stretches) - len(texts)
    return found, " and again ".join(texts) + (f", and {count(more, 'time')} more" if more else "")
