"""One frame a day with the sun in the same place, so that shadows stand still through the year.

Pure: rows of the frame log go in one after the other, in any order; what is kept of each day does not grow with them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from controller.results.series.wanted import SameSun, Wanted
from controller.words.documents import Frame, FrameState


@dataclass(slots=True)
class _Day:
    off_deg: float = 360.0
    frame: Frame | None = None
    highest_deg: float = -90.0
    lowest_deg: float = 90.0


@dataclass(frozen=True, slots=True)
class Without:
    """A local day of which the film shows nothing."""

    day: date
    why: str


class OneADay:
    """`there` says whether a frame has a picture."""

    def __init__(self, wanted: Wanted, zone: ZoneInfo, there: Callable[[Frame], bool]) -> None:
        assert isinstance(wanted.series, SameSun)
        self._sun, self._wanted, self._zone, self._there = wanted.series, wanted, zone, there
        self._days: dict[date, _Day] = {}

    def take(self, frame: Frame) -> None:
        """The next row."""
        when = datetime.fromtimestamp(frame.due_utc, self._zone).date()
        if frame.state is FrameState.DUE or not self._wanted.covers(when):
            return
        day = self._days.setdefault(when, _Day())
        if frame.state in (FrameState.MISSED, FrameState.LOST):
            return
        altitude, azimuth = frame.sun_altitude_deg, frame.sun_azimuth_deg
        if altitude is None or azimuth is None or side_of(azimuth) != (self._sun.side or side_of(azimuth)):
            return
        day.highest_deg, day.lowest_deg = max(day.highest_deg, altitude), min(day.lowest_deg, altitude)
        off_deg = abs(altitude - self._sun.deg) if self._sun.of == "altitude" else apart(azimuth, self._sun.deg)
        if off_deg < day.off_deg and self._there(frame):
            day.off_deg, day.frame = off_deg, frame

    def chosen(self) -> tuple[list[Frame], list[Without]]:
        """A frame of each day that has one, by time, and every other day from the first to the last."""
        frames, without = [], []
        for day in _from_to(self._days):
            found = self._days.get(day)
            if found is not None and found.frame is not None and found.off_deg <= self._wanted.within_deg:
                frames.append(found.frame)
            else:
                without.append(Without(day, "nothing was shot" if found is None else self._why(found)))
        return sorted(frames, key=lambda frame: frame.due_utc), without

    def _why(self, day: _Day) -> str:
        if day.frame is None:
            return f"no frame with a picture{f' in the {self._sun.side}' if self._sun.side else ''}"
        if self._sun.of == "altitude" and day.highest_deg < self._sun.deg:
            return "the sun was not so high in any frame"
        if self._sun.of == "altitude" and day.lowest_deg > self._sun.deg:
            return "the sun was not so low in any frame"
        return f"no frame within {self._wanted.within_deg:g}° of it"


def side_of(azimuth_deg: float) -> str:
    """'morning' while the sun is in the eastern half of the sky, which is until it culminates, everywhere on Earth.

    The sine of the azimuth has the sign of minus that of the hour angle (Meeus, Astronomical Algorithms, 13.5).
    """
    return "morning" if 0 <= azimuth_deg % 360 < 180 else "evening"


def apart(one_deg: float, other_deg: float) -> float:
    """Degrees between two azimuths, 0…180."""
    return abs((one_deg - other_deg + 180) % 360 - 180)


def _from_to(days: dict[date, _Day]) -> list[date]:
    if not days:
        return []
    first, last = min(days), max(days)
    return [first + timedelta(days=number) for number in range((last - first).days + 1)]


def told(without: list[Without]) -> list[str]:
    """Lines for people: days in a row with the same cause are one."""
    runs: list[tuple[date, date, str]] = []
    for one in without:
        if runs and runs[-1][2] == one.why and one.day - runs[-1][1] == timedelta(days=1):
            runs[-1] = (runs[-1][0], one.day, one.why)
        else:
            runs.append((one.day, one.day, one.why))
    return [f"{first}{'' if first == last else f' – {last}'}: {why}" for first, last, why in runs]
