"""What has to hold before a shoot may start."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterable, Iterator
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING

from controller.decide.plan import ByLight, ByPulse, BySun, Plan, Steady, Timed
from controller.decide.schedule import Window, windows
from controller.decide.turnover import begins_now
from controller.words.documents import ClockState, RigClock
from controller.words.errors import BadInput, Conflict

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

AHEAD_S = 400 * 86_400.0
"""How far ahead two shoots must not want the same camera at the same time."""

Span = tuple[float, float]  # from and to, POSIX seconds; without end: infinity


def first_window(plan: Plan, now: float) -> Window:
    """The window that a shoot begun now would shoot first. Raises BadInput where none is left.

    Of a plan for many days, one that is counted or without end is begun at its start or not at all.
    """
    for window in windows(plan, now):
        endless = plan.when.every is not None and window.stop_utc is None
        if (window.stop_utc is None or window.stop_utc > now) and not (endless and window.start_utc < now):
            return window
    raise BadInput(
        "no-window", "the plan has no time left to shoot", where="[when]", remedy="Give a stop in the future"
    )


def require_clock(plan: Plan, clock: RigClock) -> None:
    """Conflict where a plan names times and the rig's clock cannot be what it says: nobody knows when that is."""
    if clock.state is ClockState.WRONG and not begins_now(plan):
        what = f"the rig's clock is not set: {clock.why}"
        remedy = "Take your phone's time on the page, or POST it to /api/v1/clock; a plan that starts now runs at once"
        raise Conflict("clock-not-set", what, where="[when]", remedy=remedy)


def cameras_of(plan: Plan, there: list[str], *, strict: bool) -> set[str]:
    """The ids of the cameras that a plan shoots with, of those `there` on the rig.

    Raises BadInput (no-such-camera) for one that is not there where `strict`. Otherwise it is done with those that are,
    or with all: a shoot goes on with what there is.
    """
    wanted = plan.cameras and (plan.cameras.use or (plan.cameras.lead and tuple(there)))
    missing = [name for name in (plan.cameras.named if plan.cameras else ()) if name not in there]
    if missing and strict:
        what, remedy = f"this rig has no {missing[0]}", f"Name cameras of {', '.join(there)}, or start it with more"
        raise BadInput("no-such-camera", what, where="[cameras]", remedy=remedy)
    return {name for name in wanted or there if name in there} or set(there)


def require_room(runs: Iterable[ShootRun], plan: Plan, now: float) -> None:
    """Conflict where another shoot has the camera during any window of `plan` within AHEAD_S from `now` on."""
    for run in runs:
        if run.stopping:
            continue
        coming = _spans(plan, windows(plan, now), now)
        clash = next(_clashes(_spans(run.plan, _coming(run, now), now), coming), None)
        if clash is not None:
            raise Conflict(
                "rig-busy",
                f"the camera belongs to shoot {run.shoot.id} {_said(plan, *clash)}",
                where=f"shoot {run.shoot.id}",
                remedy="Stop that shoot, or choose other times or days",
            )


def _coming(run: ShootRun, now: float) -> Iterator[Window]:
    """The window that a shoot is in or waits for, and those after it."""
    plan, after = run.plan, -math.inf
    if run.window is not None:
        yield run.window
        after = run.window.start_utc + 60.0
    try:
        for window in windows(plan, now if plan.when.every is not None else run.shoot.created_utc):
            if window.start_utc > after:
                yield window
    except BadInput:  # nothing is left
        return


def _spans(plan: Plan, found: Iterable[Window], now: float) -> Iterator[Span]:
    """When windows have the camera; frames that are counted may take until the longest interval's end."""
    for window in found:
        if window.start_utc > now + AHEAD_S:
            return
        stop_utc = window.stop_utc
        if stop_utc is None:
            stop_utc = math.inf if window.frames is None else window.start_utc + window.frames * _longest_s(plan)
        if stop_utc > now:
            yield window.start_utc, stop_utc


def _longest_s(plan: Plan) -> float:
    match plan.pace:
        case Steady() as pace:
            most_s = pace.interval_s
        case Timed() as pace:
            most_s = max(pace.from_s, pace.to_s)
        case BySun() | ByLight() as pace:
            most_s = max(interval_s for _, interval_s in pace.points)
        case ByPulse():  # who knows
            return math.inf
    return max(most_s, plan.pace.stretch_to_s or 0.0)


def _clashes(ours: Iterator[Span], theirs: Iterator[Span]) -> Iterator[Span]:
    """What two rows of spans, each in order of time, have in common; no further than the shorter of them reaches."""
    one, other = next(ours, None), next(theirs, None)
    while one is not None and other is not None:
        if max(one[0], other[0]) < min(one[1], other[1]):
            yield max(one[0], other[0]), min(one[1], other[1])
        if one[1] <= other[1]:
            one = next(ours, None)
        else:
            other = next(theirs, None)


def _said(plan: Plan, start_utc: float, stop_utc: float) -> str:
    start = datetime.fromtimestamp(start_utc, plan.site.zone)
    if stop_utc == math.inf:
        return f"from {start:%Y-%m-%d %H:%M} on, until it is stopped"
    stop = datetime.fromtimestamp(stop_utc, plan.site.zone)
    to = f"{stop:%H:%M}" if stop.date() == start.date() else f"{stop:%Y-%m-%d %H:%M}"
    return f"on {start:%Y-%m-%d} from {start:%H:%M} to {to}"


def shoot_id(name: str, now: float, zone: tzinfo, taken: Collection[str]) -> str:
    """A name for a shoot that begins with its day by the place's clock, so that they sort, and is not taken."""
    slug = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "shoot"
    stem = f"{datetime.fromtimestamp(now, zone):%Y-%m-%d}-{slug}"
    return next(id for n in range(1, len(taken) + 2) if (id := stem if n == 1 else f"{stem}-{n}") not in taken)
