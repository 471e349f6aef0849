"""The windows of a plan, each walked over the expected sky."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from controller.decide.exposure import Body
from controller.decide.forecast import Forecast, Point, forecast
from controller.decide.plan import Plan
from controller.decide.schedule import NOT_A_DAY, SKIPPED, NoWindow, Window, days, windows, windows_of
from controller.decide.step import Adjust, Moment

FINE_WINDOWS = 3
"""The first windows are worked out to the minute, and of the rest those nearest to the solstices and the last."""

_MOST_FINE = 12  # of a plan with many windows a day
_SOLSTICES = (172, 355)  # days of the year, within two (Meeus, Astronomical Algorithms, chapter 27)

TOLD_S = 4 * 86400.0

COARSE = 40
"""Points of a forecast that is not worked out to the minute."""

_FINE = (400, 1440)
_FINE_S = 60.0


@dataclass(frozen=True, slots=True)
class Ahead:
    """One window. Shooting begins at `begin_utc`: its start, or the moment asked about where it is open already."""

    window: Window
    begin_utc: float
    coming: Forecast
    fine: bool

    @property
    def points(self) -> tuple[Point, ...]:
        return self.coming.points

    @property
    def end_utc(self) -> float:
        """The end, or how far an open window was looked ahead."""
        return self.coming.end_utc if self.coming.end_utc is not None else self.points[-1].utc

    @property
    def told_utc(self) -> float:
        """Up to when light, sun events and pictures are told: a window of weeks has too many."""
        return min(self.end_utc, self.begin_utc + TOLD_S)

    def at(self, utc: float) -> tuple[float, float, Point]:
        """Frames before a moment, the interval then, and the point of the walk that is nearest."""
        after = min(len(self.points) - 1, bisect_left(self.points, utc, key=lambda point: point.utc))
        here, before = self.points[after], self.points[max(0, after - 1)]
        share = 1.0 if here.utc == before.utc else min(1.0, max(0.0, (utc - before.utc) / (here.utc - before.utc)))
        frames = before.frames + share * (here.frames - before.frames)
        interval_s = before.interval_s + share * (here.interval_s - before.interval_s)
        return frames, interval_s, here if share > 0.5 else before

    def utc_of(self, frames: float) -> float | None:
        """When so many frames are done; None if that is not in this window."""
        after = bisect_left(self.points, frames, key=lambda point: point.frames)
        if after == len(self.points):
            return None
        here, before = self.points[after], self.points[max(0, after - 1)]
        gained = here.frames - before.frames
        return here.utc if gained <= 0 else before.utc + (frames - before.frames) / gained * (here.utc - before.utc)


def look_ahead(plan: Plan, asked: float | date, body: Body | None) -> tuple[list[Ahead], list[NoWindow]]:
    """The windows of `plan` as asked at a moment, POSIX seconds, or on a local day; and days without any.

    Raises BadInput as `schedule.windows` does.
    """
    answers = list(_answers(plan, asked))
    coming = [answer for answer in answers if isinstance(answer, Window)]
    fine = _fine(plan, coming)
    found = []
    for n, window in enumerate(coming):
        begin_utc = window.start_utc if isinstance(asked, date) else max(window.start_utc, asked)
        found.append(walked(plan, window, begin_utc, body, fine=n in fine))
    skipped = [a for a in answers if isinstance(a, NoWindow) and a.cause != NOT_A_DAY]
    return found, skipped


def _fine(plan: Plan, coming: Sequence[Window]) -> set[int]:
    """Which windows are worked out to the minute: the shortest and the longest nights are among them."""
    chosen = list(range(min(FINE_WINDOWS, len(coming))))
    for part in sorted({window.part for window in coming}):
        of_part = [n for n, window in enumerate(coming) if window.part == part]
        chosen.append(of_part[-1])
        for solstice in _SOLSTICES:
            chosen.append(min(of_part, key=lambda n: _days_from(at_site(plan, coming[n].start_utc), solstice)))
    return set(list(dict.fromkeys(chosen))[:_MOST_FINE])


def _days_from(there: datetime, day_of_year: int) -> float:
    return abs((there.timetuple().tm_yday - day_of_year + 183) % 366 - 183)


def elsewhere(plan: Plan, day: date) -> str | None:
    """Where no window starts on a day that was asked for: why, and when the next is. Raises as `windows_of`."""
    cause = None
    for of_day, found in windows_of(plan, day):
        if isinstance(found, NoWindow):
            cause = found.cause if of_day == day else cause
            continue
        there = at_site(plan, found.start_utc).date()
        if there == day:
            return None
        if there < day and plan.when.every is not None:
            continue
        if cause in (SKIPPED, NOT_A_DAY):
            what = f"{day_of(day)} is {cause}"
        else:
            what = f"No window starts on {day_of(day)}" + (f" ({cause})" if cause else "")
        year = "" if there.year == day.year else f" {there.year}"
        return f"{what}; the {'next ' if there > day else ''}window is on {day_of(there)}{year}."
    return None


def walked(plan: Plan, window: Window, begin_utc: float, body: Body | None, *, fine: bool) -> Ahead:
    """One window, from `begin_utc` on."""
    least, most = _FINE
    length_s = most * _FINE_S if window.stop_utc is None else window.stop_utc - begin_utc
    grid = min(most, max(least, math.ceil(length_s / _FINE_S))) if fine else COARSE
    coming = forecast(plan, Adjust(), None, window, body, Moment(begin_utc, 0.0), grid=grid)
    return Ahead(window, begin_utc, coming, fine)


def _answers(plan: Plan, asked: float | date) -> Iterable[Window | NoWindow]:
    if isinstance(asked, date):
        return [answer for _, answer in windows_of(plan, asked)]
    if plan.when.every is None:
        return windows(plan, asked)
    return [answer for _, answer in days(plan, asked)]


# ---- how moments and quantities are said


def at_site(plan: Plan, utc: float) -> datetime:
    """A moment by the site's clock."""
    return datetime.fromtimestamp(utc, plan.site.zone)


def local(plan: Plan, utc: float) -> str:
    """ISO 8601 by the site's clock, with its offset from UTC."""
    return at_site(plan, round(utc)).isoformat(timespec="seconds")


def minute(plan: Plan, utc: float, beside_utc: float) -> str:
    """To the minute, with the day where it is another one than that of `beside_utc`."""
    there, beside = at_site(plan, utc), at_site(plan, beside_utc)
    if there.date() == beside.date():
        return f"{there:%H:%M}"
    if there.date() - beside.date() == timedelta(days=1):
        return f"{there:%a %H:%M}"
    return f"{there:%a %d %b %H:%M}"


def dated(plan: Plan, utc: float) -> str:
    """With its day."""
    return f"{at_site(plan, utc):%a %d %b %H:%M}"


def day_of(day: date) -> str:
    """'4 Jan'."""
    return f"{day.day} {day:%b}"


def stretch(plan: Plan, from_utc: float, to_utc: float, beside_utc: float, first: str = "", last: str = "") -> str:
    """'from 19:40 to 20:10' or 'at 19:40', with what is to be said of both ends behind them."""
    begin, end = (minute(plan, utc, beside_utc) for utc in (from_utc, to_utc))
    return f"at {begin}{first}" if begin == end else f"from {begin}{first} to {end}{last}"
