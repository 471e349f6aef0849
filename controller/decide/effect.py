"""What a change made while shooting would come to, before it is made. Pure: by the forecast that `now` shows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from controller.decide.advice.ahead import COARSE, TOLD_S
from controller.decide.exposure import Body
from controller.decide.forecast import Forecast, Point, forecast, forecast_held
from controller.decide.limits_met import limits_met
from controller.decide.offered import of_dials, of_needs
from controller.decide.plan import Plan
from controller.decide.safe_interval import Needs
from controller.decide.schedule import Window, windows
from controller.decide.step import Adjust, Moment, Progress
from controller.decide.turnover import SAME_S, has_several
from controller.words.effect import Course, Effect, LimitMet
from controller.words.errors import BadInput

_GRID = (200, 3000)  # points of the window under way, two slots apart where that is enough


@dataclass(frozen=True, slots=True)
class Standing:
    """A shoot as it stands: in `window`, or waiting for it; None where none is known. `done` is of all windows."""

    plan: Plan
    adjust: Adjust
    window: Window | None
    progress: Progress | None
    body: Body | None
    now: Moment
    done: int
    created_utc: float
    stopping: bool = False  # its last frames are on their way
    hold_s: float = 0.0  # until a hold ends by itself


@dataclass(frozen=True, slots=True)
class Change:
    """What is to be looked at: other settings in force, held for so many seconds from now, or stopped.

    Without `hold_s` it is held for as long as it is.
    """

    adjust: Adjust
    hold_s: float | None = None
    stop: bool = False


def effect(at: Standing, change: Change, needs: Needs | None = None) -> Effect:
    """How the shoot stands, and what it would be once `change` is made.

    One that is held goes on when its hold ends; now, where that has no end.

    `needs` is what the body was seen to need between releases, None where that is not known.
    """
    stands, _ = _course(at, Change(at.adjust, stop=at.stopping))
    then, points = _course(at, replace(change, stop=change.stop or at.stopping))
    words = [*of_dials(at.plan, at.adjust, change.adjust, at.body)]
    if change.adjust != at.adjust and len(at.plan.light.offsets) == 1:
        words += of_needs(points, needs)
    return Effect(stands=stands, then=then, words=words)


def _course(at: Standing, change: Change) -> tuple[Course, Sequence[Point]]:
    """What is to come, and the points of the window under way."""
    if change.stop:
        return _over(at), ()
    if at.window is None:
        return _summed(at, None, None, []), ()
    coming = _in_window(at, at.window, change)
    after = _after(at, at.window, change.adjust)
    limits = _told(at, change.adjust, coming)
    return _summed(at, coming, None if after is None else [*after], limits), coming.points


def _in_window(at: Standing, window: Window, change: Change) -> Forecast:
    """The rest of the window under way, or all of the next."""
    hold_s = at.hold_s if change.hold_s is None else change.hold_s
    grid = _grid(at, window, change.adjust, max(window.start_utc, at.now.utc + hold_s))
    return forecast_held(at.plan, change.adjust, at.progress, window, at.body, at.now, hold_s, grid=grid)


def _grid(at: Standing, window: Window, adjust: Adjust, begin_utc: float) -> int:
    """As many points as put two slots between them, within reason."""
    least, most = _GRID
    in_force_s = at.progress.interval_s if at.progress is not None else None
    planned_s = at.plan.pace.shortest()[1]
    to_s = adjust.pace.to_s if adjust.pace is not None else planned_s if at.adjust.pace is not None else None
    intervals = [in_force_s or planned_s, *([to_s] if to_s is not None else [])]
    if window.stop_utc is not None:
        return round(min(most, max(least, (window.stop_utc - begin_utc) / min(intervals) / 2)))
    if window.frames is not None:  # the forecast steps by the interval in force, however long those to come are
        return round(max(least, min(most, window.frames / 2) * min(1.0, intervals[0] / intervals[-1])))
    return most


def _after(at: Standing, window: Window, adjust: Adjust) -> Iterator[Forecast] | None:
    """The windows that follow; None where there is no end of them."""
    if window.stop_utc is None and window.frames is None:
        return None
    if not has_several(at.plan):
        return iter(())
    when = at.plan.when
    if when.every is not None and when.until is None:
        return None
    asked = at.now.utc if when.every is not None else at.created_utc
    return (
        forecast(at.plan, adjust, None, each, at.body, Moment(each.start_utc, 0.0), grid=COARSE)
        for each in _windows(at.plan, asked)
        if each.start_utc > window.start_utc + SAME_S
    )


def _windows(plan: Plan, asked_utc: float) -> Iterator[Window]:
    try:
        yield from windows(plan, asked_utc)
    except BadInput:  # none is left
        return


def _told(at: Standing, adjust: Adjust, coming: Forecast) -> list[LimitMet]:
    """Limits that are met in the window under way: those of four days, for a window of weeks has too many."""
    if not coming.points:
        return []
    told_utc = coming.points[0].utc + TOLD_S
    whole = coming.end_utc is not None and coming.end_utc <= told_utc
    points = [point for point in coming.points if point.utc <= told_utc]
    return limits_met(at.plan, adjust, at.body, points, coming.end_utc if whole else None)


def _summed(at: Standing, coming: Forecast | None, after: list[Forecast] | None, limits: list[LimitMet]) -> Course:
    all_of = None if coming is None or after is None else [coming, *after]
    if all_of is not None and any(each.frames_left is None for each in all_of):
        all_of = None
    to_come = None if all_of is None else sum(each.frames_left or 0 for each in all_of)
    closed = coming is not None and coming.end_utc is not None
    points = coming.points if coming is not None else ()
    in_force_s = at.progress.interval_s if at.progress is not None else None
    return Course(
        frames=None if to_come is None else at.done + to_come,
        frames_to_come=to_come,
        clip_s=None if to_come is None else round((at.done + to_come) / at.plan.releases_per_clip_s, 2),
        end_utc=None if all_of is None else all_of[-1].end_utc,
        windows=None if all_of is None else len(all_of),
        window_frames_to_come=None if coming is None else coming.frames_left,
        window_end_utc=None if coming is None else coming.end_utc,
        interval_s=None if not closed else round(points[-1].interval_s, 3) if points else in_force_s,
        limits=limits,
    )


def _over(at: Standing) -> Course:
    return Course(
        frames=at.done,
        frames_to_come=0,
        clip_s=round(at.done / at.plan.releases_per_clip_s, 2),
        end_utc=at.now.utc,
        windows=0,
        window_frames_to_come=0,
        window_end_utc=at.now.utc,
        interval_s=at.progress.interval_s if at.progress is not None else None,
        limits=[],
    )
