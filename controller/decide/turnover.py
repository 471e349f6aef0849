"""From one window of a shoot to the next: decided anew from the plan, what was begun, and now, never from a timer.

So neither a step of the clock, nor a power cut, nor a change of zone loses a window or shoots one twice.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection
from dataclasses import dataclass, replace

from controller.decide import anchors
from controller.decide.plan import Plan
from controller.decide.schedule import Window, windows
from controller.words.errors import BadInput

WRONG_CLOCK_S = 12 * 3600.0
"""A window that was begun later than this from now on was begun by a clock that was wrong, and says nothing."""

SAME_S = 60.0
"""Starts that differ by less are the same window's: the sun's hours are worked out again after an update."""

BACK_S = 60 * 86_400.0
"""How far back windows are looked for that have passed; a clock that wakes up in the wrong decade is no outage."""


@dataclass(frozen=True, slots=True)
class Turnover:
    """`window` is to be shot next, None where the plan is over; `passed` ended within BACK_S and were never begun."""

    window: Window | None
    passed: tuple[Window, ...] = ()


def turnover(plan: Plan, created_utc: float, begun_utc: Collection[float], now_utc: float) -> Turnover:
    """What comes next of a shoot that was created at `created_utc` and has begun the windows from `begun_utc`.

    All POSIX seconds by the wall's clock as it stood then, which may have been wrong. Raises BadInput as
    `schedule.windows` does.
    """
    if begun_utc and not has_several(plan):
        return Turnover(None)
    asked = min(created_utc, now_utc)
    after = max((utc for utc in begun_utc if utc <= now_utc + WRONG_CLOCK_S), default=None)
    if plan.when.every is not None:
        asked = max(asked, now_utc - BACK_S, min(after or asked, now_utc))
    passed: list[Window] = []
    for window in windows(plan, asked):
        if after is not None and window.start_utc <= after + SAME_S:
            continue
        if plan.when.every is not None and window.stop_utc is None and window.start_utc < asked:
            continue  # counted or endless, of a plan for many days: begun at its start or not at all
        if window.stop_utc is not None and window.stop_utc <= now_utc:
            passed.append(window)
            continue
        return Turnover(window, tuple(passed))
    return Turnover(None, tuple(passed))


def has_several(plan: Plan) -> bool:
    """Whether a plan may have another window after its first."""
    return plan.when.every is not None or plan.when.windows is not None


def begins_now(plan: Plan) -> bool:
    """Whether a plan begins when it is started, whatever time that is."""
    starts = [anchors.parse_anchor(part.start) for part in plan.when.parts()]
    return plan.when.every is None and all(isinstance(start, anchors.Now) for start in starts)


def stepped(window: Window, step_s: float) -> Window:
    """A window under way once the wall's clock was put forward by `step_s` (back, where negative).

    It lasts as long as it would have: nobody knows which of the two clocks was right, and a frame too many costs less
    than one that is not there.
    """
    stop_utc = None if window.stop_utc is None else window.stop_utc + step_s
    return replace(window, start_utc=window.start_utc + step_s, stop_utc=stop_utc)


def rebased(begun_utc: Collection[float], step_s: float) -> list[float]:
    """What is known of windows begun, once the wall's clock was put forward by `step_s` (back, where negative).

    After a small step a window of the same name is not shot again. After a large one the names were wrong: what counts
    is when it was, so that every evening has its window, once.
    """
    return [utc + step_s for utc in begun_utc] if abs(step_s) >= WRONG_CLOCK_S else list(begun_utc)


def begun_before(plan: Plan, created_utc: float, start_utc: float, stop_utc: float | None) -> Window:
    """A window as it was written down when it was begun: steps of the clock may have moved it since then.

    What is not written down is that of the plan's window nearest to it.
    """
    asked = start_utc - 86_400.0 if plan.when.every is not None else created_utc
    try:
        near = min(
            itertools.takewhile(lambda window: window.start_utc < start_utc + 2 * 86_400.0, windows(plan, asked)),
            key=lambda window: abs(window.start_utc - start_utc),
            default=Window(start_utc, stop_utc),
        )
    except BadInput:
        near = Window(start_utc, stop_utc)
    frames = near.frames if stop_utc is None else None
    return Window(start_utc, stop_utc, frames, near.part)
