"""What a film of months is to show, as it is written on a command line and in a request."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Literal

from controller.words.errors import BadInput

Side = Literal["morning", "evening"]
SKIPPED = ("fog", "drops", "night")
WITHIN_DEG = 3.0
"""From the wanted place of the sun, degrees, beyond which a day has no frame: shadows move by as much in 12 minutes."""

_SIDES: dict[str, Side] = {"morning": "morning", "evening": "evening"}
_RANGES = {"sun-azimuth": (0.0, 360.0), "sun-altitude": (-90.0, 90.0)}
"""Degrees."""
_FORMS = "sun-azimuth=180, sun-altitude=20,morning, sun-altitude=20,evening or hour-best"


@dataclass(frozen=True, slots=True)
class SameSun:
    """One frame a day: the sun at this azimuth, or at this altitude before or after its highest."""

    of: Literal["azimuth", "altitude"]
    deg: float
    side: Side | None = None

    @property
    def slug(self) -> str:
        """For a file's name."""
        return "-".join(filter(None, (f"sun-{self.of}", f"{self.deg:g}".replace("-", "minus"), self.side)))

    def __str__(self) -> str:
        side = "" if self.side is None else f" in the {self.side}"
        return f"the sun's {self.of} at {self.deg:g}°{side}".replace("-", "−")


@dataclass(frozen=True, slots=True)
class HourBest:
    """One frame of each hour: the sharpest that is well lit."""

    slug = "hour-best"

    def __str__(self) -> str:
        return "the best frame of each hour"


@dataclass(frozen=True, slots=True)
class Wanted:
    """`series` None: every frame. `first` and `last` are local days, both included."""

    series: SameSun | HourBest | None = None
    skip: frozenset[str] = frozenset()
    first: date | None = None
    last: date | None = None
    within_deg: float = WITHIN_DEG

    @property
    def slug(self) -> str:
        """For a file's name: films of other frames have other names."""
        parts = [] if self.series is None else [self.series.slug]
        if self.within_deg != WITHIN_DEG:
            parts.append(f"within-{self.within_deg:g}")
        if self.skip:
            parts.append("-".join(("without", *sorted(self.skip))))
        parts += [f"{word}-{day}" for word, day in (("from", self.first), ("to", self.last)) if day is not None]
        return "-".join(parts)

    def __str__(self) -> str:
        """For people: 'the sun's azimuth at 180°, without fog, from 2026-12-01 on'; empty where it is every frame."""
        parts = [] if self.series is None else [str(self.series)]
        if self.skip:
            parts.append(f"without {' and '.join(sorted(self.skip))}")
        if self.first is not None and self.first == self.last:
            parts.append(f"{self.first}")
        elif self.first is not None:
            parts.append(f"{self.first} on" if self.last is None else f"{self.first} to {self.last}")
        elif self.last is not None:
            parts.append(f"up to {self.last}")
        return ", ".join(parts)

    def covers(self, day: date) -> bool:
        """Whether a local day is among those wanted."""
        return (self.first is None or day >= self.first) and (self.last is None or day <= self.last)


def wanted_of(series: str | None, within: str | None, skip: str | None, days: str | None) -> Wanted | None:
    """All of it as it is written; None where every frame of every day is wanted. Raises BadInput('bad-series')."""
    if series is None and within is None and skip is None and days is None:
        return None
    of = None if series is None else series_of(series)
    if within is not None and not isinstance(of, SameSun):
        what = "this is how far the sun may be off in a series of one frame a day"
        raise BadInput("bad-series", what, "within", "Give the series sun-azimuth=… or sun-altitude=… with it")
    first, last = (None, None) if days is None else days_of(days)
    within_deg = WITHIN_DEG if within is None else within_of(within)
    return Wanted(of, frozenset() if skip is None else skip_of(skip), first, last, within_deg)


def series_of(text: str) -> SameSun | HourBest:
    """'sun-azimuth=180', 'sun-altitude=20,morning', 'hour-best'. Raises BadInput('bad-series')."""
    if text == "hour-best":
        return HourBest()
    kind, _, value = text.partition("=")
    number, _, side = value.partition(",")
    try:
        deg = float(number)
    except ValueError:
        deg = math.nan
    low, high = _RANGES.get(kind, (-math.inf, math.inf))
    if not math.isnan(deg) and not low <= deg <= high:
        what = f"{number.strip()}° is no {kind.removeprefix('sun-')} of the sun"
        raise BadInput("bad-series", what, "series", f"Give {low:g} to {high:g}")
    if kind == "sun-azimuth" and not side and not math.isnan(deg):
        return SameSun("azimuth", deg % 360)
    if kind == "sun-altitude" and not math.isnan(deg):
        if side in _SIDES:
            return SameSun("altitude", deg, _SIDES[side])
        what = f"the sun stands at {deg:g}° twice a day"
        raise BadInput("bad-series", what, "series", f"Write {text.partition(',')[0]},morning or …,evening")
    raise BadInput("bad-series", f"{text!r} is no series of frames", "series", f"Write {_FORMS}")


def skip_of(text: str) -> frozenset[str]:
    """'fog,night'. Raises BadInput('bad-series')."""
    words = [word.strip() for word in text.split(",") if word.strip()]
    if not words:
        raise BadInput("bad-series", f"{text!r} names nothing to leave out", "skip", "Write fog, drops, night")
    for word in words:
        if word not in SKIPPED:
            raise BadInput("bad-series", f"{word!r} cannot be told from a picture", "skip", "Write fog, drops, night")
    return frozenset(words)


def days_of(text: str) -> tuple[date | None, date | None]:
    """'2026-12-01..2027-05-31', either of them left out, or one day. Raises BadInput('bad-series')."""
    first, dots, last = text.partition("..")
    try:
        begin = date.fromisoformat(first) if first else None
        end = (date.fromisoformat(last) if last else None) if dots else begin
    except ValueError:
        begin = end = None
    if begin is not None and end is not None and end < begin:
        what, remedy = f"{text} ends before it begins", f"Write the earlier day first: {end}..{begin}"
        raise BadInput("bad-series", what, "days", remedy)
    if begin is None and end is None:
        remedy = "Write two days like 2026-12-01..2027-05-31; one of them may be left out"
        raise BadInput("bad-series", f"{text!r} are no days", "days", remedy)
    return begin, end


def within_of(text: str) -> float:
    """Degrees. Raises BadInput('bad-series')."""
    try:
        deg = float(text)
    except ValueError:
        deg = math.nan
    if not 0 < deg <= 90:
        raise BadInput("bad-series", f"{text!r} are no degrees from the wanted place", "within", "Give 0.1 to 90")
    return deg
