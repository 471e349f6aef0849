"""When to shoot: windows from a plan and the present time.

Windows are computed anew from the plan and a moment whenever they are wanted, never kept in a timer, so that a step of
the clock, a power cut or a change of zone can neither lose nor double one. A shoot under way finds its own window again
by asking with the moment at which it was created.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from controller.decide import anchors
from controller.decide.moments import NoSuchEvent, instead_of, moment
from controller.decide.plan import DAYS, LONGEST_S, Plan, When
from controller.words.errors import BadInput

SKIPPED, NOT_A_DAY = "skipped by the plan", "not a day of the plan"
"""Causes why nothing is shot on a day."""

_HORIZON_DAYS = 400  # how far ahead a repeated plan without an end is looked through before it is given up


@dataclass(frozen=True, slots=True)
class Window:
    """One stretch of shooting. Without `stop_utc` and `frames` it lasts until it is stopped."""

    start_utc: float
    stop_utc: float | None = None
    frames: int | None = None
    part: int = 0  # which of the plan's windows of a day


@dataclass(frozen=True, slots=True)
class NoWindow:
    """A local day of a repeated plan on which nothing is shot, and why."""

    day: date
    cause: str


Settled = dict[tuple[date, int], Window | NoWindow]  # by day, and which of the plan's windows of a day


def windows(plan: Plan, now_utc: float) -> Iterator[Window]:
    """The windows that are open at `now_utc` or still to come, in order of time.

    A plan that is not repeated has each of its windows once. Raises BadInput: no-such-event where a sun event does not
    happen on the day in question, window-past where a dated window is over, stop-before-start where the times cross on
    that day, windows-overlap where one begins before the one before it has ended.
    """
    if plan.when.every is not None:
        yield from (found for _, found in days(plan, now_utc) if isinstance(found, Window))
        return
    found, past = [], None
    for part, single in _parts(plan):
        try:
            found.append(replace(_single(single, now_utc), part=part))
        except NoSuchEvent as error:
            error.remedy = instead_of(plan.site, error.event, error.day)
            raise
        except BadInput as error:
            if error.code != "window-past":
                raise
            past = error
    if past is not None and not found:
        raise past
    found.sort(key=lambda window: window.start_utc)
    for before, window in itertools.pairwise(found):
        if _overlap(before, window):
            what = f"{_told(plan, before)} overlaps {_told(plan, window)}"
            raise BadInput("windows-overlap", what, "[when] windows", "Move one of them")
    yield from found


def _parts(plan: Plan) -> list[tuple[int, Plan]]:
    """The plan with each of its windows of a day alone."""
    if plan.when.windows is None:
        return [(0, plan)]
    return [(n, plan.model_copy(update={"when": when})) for n, when in enumerate(plan.when.parts())]


def _overlap(one: Window, other: Window) -> bool:
    """Both at the same time; of a window that is counted or without end only the start is known."""
    ends = (window.stop_utc or window.start_utc + 0.001 for window in (other, one))
    return one.start_utc < next(ends) and other.start_utc < next(ends)


def _told(plan: Plan, window: Window) -> str:
    end = "" if window.stop_utc is None else f" to {_clock(plan, window.stop_utc)}"
    return f"the window from {_clock(plan, window.start_utc)}{end}"


def windows_of(plan: Plan, day: date) -> Iterator[tuple[date, Window | NoWindow]]:
    """What a plan comes to as asked on a local day: the window that starts on it; of a repeated plan that and later.

    A plan that names its moment itself, or starts now, is taken as at that day's midnight. Raises as `windows` does.
    """
    midnight_utc = datetime.combine(day, time(0), plan.site.zone).timestamp()
    if plan.when.every is not None:
        for of_day, found in days(plan, midnight_utc):
            if isinstance(found, NoWindow) or found.start_utc >= midnight_utc:
                yield of_day, found
        return
    singles = [replace(_single_of(single, day, midnight_utc), part=part) for part, single in _parts(plan)]
    for window in sorted(singles, key=lambda window: window.start_utc):
        yield day, window


def _single_of(plan: Plan, day: date, midnight_utc: float) -> Window:
    start = anchors.parse_anchor(plan.when.start)
    if plan.when.date is not None or not anchors.comes_round(start):
        return next(windows(plan, midnight_utc))
    refusal: BadInput | None = None
    for ahead in (0, -1, 1):  # an event's moment can lie beyond midnight of the day that it belongs to
        try:
            window = _on(plan, day + timedelta(days=ahead), midnight_utc)
        except BadInput as error:
            refusal = error if ahead == 0 else refusal
            continue
        if _local_day(plan, window.start_utc) == day:
            return window
    if isinstance(refusal, NoSuchEvent):
        refusal.remedy = instead_of(plan.site, refusal.event, refusal.day)
    raise refusal or BadInput("no-window", f"no window starts on {day}", "[when] start", "Choose another day")


def clock_skips(plan: Plan, window: Window) -> list[tuple[str, str, float]]:
    """Keys of [when] whose time of day does not exist on that day, since the clock is put forward over it.

    Each with the text that names it and the moment that is taken in its place, POSIX seconds.
    """
    found, when = [], plan.when.parts()[window.part]
    for key, text, utc in (("start", when.start, window.start_utc), ("stop", when.stop, window.stop_utc)):
        anchor = anchors.parse_anchor(text) if text is not None else None
        if not isinstance(anchor, anchors.Local) or utc is None:
            continue
        if datetime.fromtimestamp(utc, plan.site.zone).time() != anchor.at.replace(tzinfo=None):
            found.append((key, str(text), utc))
    return found


def days(plan: Plan, now_utc: float) -> Iterator[tuple[date, Window | NoWindow]]:
    """Day by day, what a repeated plan comes to, from the window open at `now_utc` on; what is left out with its cause.

    Without `until` it ends after 400 days. Raises BadInput (no-window) if nothing at all is shot in that time.
    """
    when = plan.when
    today = _local_day(plan, now_utc)
    parts = _parts(plan)
    longest_s = max(anchors.parse_length(part.when.duration) if part.when.duration else 0.0 for _, part in parts)
    reach = 1 + math.ceil(longest_s / 86400)
    settled: Settled = {}
    first = max(today - timedelta(days=reach), when.from_ or date.min)
    last = when.until or max(today, first) + timedelta(days=_HORIZON_DAYS)
    shot = False
    cause = "the plan's days are over"
    for day in (first + timedelta(days=n) for n in range((last - first).days + 1)):
        for found in _of_day(parts, day, reach, settled):
            if isinstance(found, NoWindow):
                cause = found.cause
                if day >= today:
                    yield day, found
            elif _ends(found) > now_utc:
                shot = True
                yield day, found
    if not shot:
        raise BadInput(
            "no-window", f"nothing is left to shoot: {cause}", "[when]", "Change the days, or start and stop"
        )


def _of_day(parts: list[tuple[int, Plan]], day: date, reach: int, settled: Settled) -> list[Window | NoWindow]:
    """What the windows of a day come to, in order of time; those that do not happen first."""
    if (cause := _left_out(parts[0][1].when, day)) is not None:
        return [NoWindow(day, cause)]
    found = [_settle(parts, day, part, reach, settled) for part, _ in parts]
    return sorted(found, key=lambda one: one.start_utc if isinstance(one, Window) else -math.inf)


def _left_out(when: When, day: date) -> str | None:
    """Why nothing at all is shot on a day."""
    if day in when.skip:
        return SKIPPED
    if when.every is not None and DAYS[day.weekday()] not in when.every:
        return NOT_A_DAY
    if (when.from_ is not None and day < when.from_) or (when.until is not None and day > when.until):
        return "the plan's days are over"
    return None


def _settle(parts: list[tuple[int, Plan]], day: date, part: int, reach: int, settled: Settled) -> Window | NoWindow:
    """One window of a day. Of two that overlap the one that stands first in the plan is shot.

    So what becomes of a window depends on the days within `reach` of it alone, and not on the day from which one looks.
    """
    if (found := settled.get((day, part))) is not None:
        return found
    plan = parts[part][1]
    if (cause := _left_out(plan.when, day)) is not None:
        found = NoWindow(day, cause)
    else:
        try:
            found = replace(_on(plan, day, None), part=part)
        except BadInput as error:
            found = NoWindow(day, error.what)
    for other, near in itertools.product(range(part), range(-reach, reach + 1)):
        if isinstance(found, NoWindow):
            break
        there = _settle(parts, day + timedelta(days=near), other, reach, settled)
        if isinstance(there, Window) and _overlap(there, found):
            found = NoWindow(day, f"it overlaps {_told(plan, there)}, which stands before it in the plan")
    settled[day, part] = found
    return found


def _single(plan: Plan, now_utc: float) -> Window:
    start = anchors.parse_anchor(plan.when.start)
    if isinstance(start, anchors.Now | anchors.Fixed):
        window = _on(plan, _local_day(plan, now_utc), now_utc)
    elif isinstance(start, anchors.Local) and start.day is not None:
        window = _on(plan, start.day, now_utc)
    elif plan.when.date is not None:
        window = _on(plan, plan.when.date, now_utc)
    else:
        return _next(plan, now_utc)
    if window.stop_utc is not None and window.stop_utc <= now_utc:
        begun, over = (_clock(plan, utc) for utc in (window.start_utc, window.stop_utc))
        what = f"the window is over: it was from {begun} to {over} ({plan.site.timezone})"
        raise BadInput("window-past", what, "[when] stop", "Choose times that are still to come")
    return window


def _next(plan: Plan, now_utc: float) -> Window:
    """The window that is open, or the next one, of a start that comes round every day."""
    today = _local_day(plan, now_utc)
    refusal: BadInput | None = None
    for ahead in (-1, 0, 1):
        day = today + timedelta(days=ahead)
        try:
            window = _on(plan, day, now_utc)
        except BadInput as error:
            if ahead == 0:
                refusal = error
            continue
        if window.stop_utc is not None:
            if window.stop_utc > now_utc:
                return _unless(refusal, window, now_utc)
        elif window.start_utc > now_utc or ahead == 0:  # an open end: what began today is under way
            return _unless(refusal, window, now_utc)
    raise refusal or BadInput("no-window", "no window is near", "[when]", "Choose another start")


def _unless(refusal: BadInput | None, window: Window, now_utc: float) -> Window:
    """Today's refusal stands, unless a window is open already."""
    if refusal is not None and window.start_utc > now_utc:
        raise refusal
    return window


def _on(plan: Plan, day: date, now_utc: float | None) -> Window:
    """The window whose start belongs to a local day."""
    when = plan.when
    start = anchors.parse_anchor(when.start)
    start_utc = moment(plan.site, start, day, now_utc, "start")
    if when.duration is not None:
        return Window(start_utc, start_utc + anchors.parse_length(when.duration))
    if when.stop is None:
        return Window(start_utc, None, when.frames)
    stop = anchors.parse_anchor(when.stop)
    if isinstance(start, anchors.Now | anchors.Fixed):
        day = _local_day(plan, start_utc)
    stop_utc = _first_after(
        start_utc, plan, stop, day, (0,) if anchors.same_side(start, stop) or _dated(stop) else (-1, 0, 1)
    )
    if stop_utc is None:
        raise BadInput(
            "stop-before-start",
            f"{when.stop} is before {when.start} on {day}",
            "[when] stop",
            "Move one of them, or give a duration",
        )
    if stop_utc - start_utc > LONGEST_S:
        what = f"the window from {when.start} to {when.stop} is longer than ten years"
        raise BadInput("window-too-long", what, "[when] stop", "Choose an earlier stop")
    return Window(start_utc, stop_utc)


def _first_after(start_utc: float, plan: Plan, stop: anchors.Anchor, day: date, ahead: tuple[int, ...]) -> float | None:
    """The first stop after the start, among those that belong to the days around `day`."""
    refusal: BadInput | None = None
    for offset in ahead:
        try:
            utc = moment(plan.site, stop, day + timedelta(days=offset), None, "stop")
        except BadInput as error:
            refusal = refusal if refusal and offset > 0 else error
            continue
        if utc > start_utc:
            return utc
    if refusal is not None:
        raise refusal
    return None


def _dated(anchor: anchors.Anchor) -> bool:
    return isinstance(anchor, anchors.Fixed) or (isinstance(anchor, anchors.Local) and anchor.day is not None)


def _ends(window: Window) -> float:
    """When a window gives way to the next day's at the latest."""
    return window.start_utc + 86400.0 if window.stop_utc is None else window.stop_utc


def _clock(plan: Plan, utc: float) -> str:
    return f"{datetime.fromtimestamp(utc, plan.site.zone):%Y-%m-%d %H:%M}"


def _local_day(plan: Plan, utc: float) -> date:
    return datetime.fromtimestamp(utc, plan.site.zone).date()
