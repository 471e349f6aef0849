"""The texts by which a plan names a time: 'now', a local ISO time, a sun event with an offset, a length of time."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from controller.decide import plan_hints
from controller.decide.plan_errors import shown
from controller.decide.sun import SUN_EVENTS

_UNITS_S = {"d": 86400.0, "h": 3600.0, "min": 60.0, "m": 60.0, "s": 1.0}
_PART = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,6})?)\s*(d|h|min|m|s)")
_WORD = re.compile(r"([A-Za-z_]+)\s*(?:([+-])\s*(\S.*))?")
_LENGTH = r"(\s*[0-9]{1,9}(\.[0-9]{1,6})?\s*(d|h|min|m|s))+"
_CLOCK = r"([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9](\.[0-9]{1,6})?)?(Z|[+-]([01][0-9]|2[0-3]):[0-5][0-9])?"
DAY_PATTERN = r"(20[0-9]{2}|2100)-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])"
LENGTH_PATTERN = rf"^{_LENGTH}\s*$"
DAILY_PATTERN = rf"^\s*(({'|'.join(SUN_EVENTS)})(\s*[+-]{_LENGTH})?|{_CLOCK})\s*$"
STOP_PATTERN = DAILY_PATTERN.replace(_CLOCK, rf"({DAY_PATTERN}[T ])?{_CLOCK}")
START_PATTERN = STOP_PATTERN.replace("(", rf"(now(\s*\+{_LENGTH})?|", 1)
"""How these texts are written, in regular expressions of Python and of JSON Schema alike."""
_LONGEST_OFFSET_S = 86400.0
_SIDES = (SUN_EVENTS[:4], SUN_EVENTS[5:])  # dawn and dusk: within each, events follow one another on one day
FIRST_YEAR, LAST_YEAR = 2000, 2100  # the sun's series and the zone tables are good for these


@dataclass(frozen=True, slots=True)
class Now:
    """The moment at which the plan is started."""

    offset_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Sun:
    """A sun event of a local day, and seconds after it (before it, where negative)."""

    event: str
    offset_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Local:
    """A time by the clock at the site; without a day, on whichever day is asked for."""

    day: date | None
    at: time


@dataclass(frozen=True, slots=True)
class Fixed:
    """POSIX seconds: an ISO time that carried its own offset from UTC."""

    utc: float


Anchor = Now | Sun | Local | Fixed


def same_side(one: Anchor, other: Anchor) -> bool:
    """Both are dusk events, or both dawn events, so that they belong to the same evening or morning."""
    if not isinstance(one, Sun) or not isinstance(other, Sun):
        return False
    return one.event == other.event or any(one.event in side and other.event in side for side in _SIDES)


def comes_round(anchor: Anchor) -> bool:
    """Whether an anchor names a moment on every day."""
    return isinstance(anchor, Sun) or (isinstance(anchor, Local) and anchor.day is None)


def precedes(stop: Anchor, start: Anchor) -> bool:
    """Whether `stop` comes before `start` on whatever day; where that depends on the day, the answer is no."""
    match start, stop:
        case Sun(), Sun() if same_side(start, stop):
            later = SUN_EVENTS.index(start.event) - SUN_EVENTS.index(stop.event)
            return later >= 0 and stop.offset_s <= start.offset_s
        case Fixed(), Fixed():
            return stop.utc <= start.utc
        case Local(), Local() if start == stop:
            return True
        case Local(), Local() if start.day and stop.day:
            return (stop.day, stop.at) <= (start.day, start.at)
    return False


def parse_length(text: str) -> float:
    """Seconds of a length of time such as '3h', '90min', '1h30min' or '45s'. Raises ValueError that names a remedy."""
    compact = text.strip()
    parts = _PART.findall(compact)
    if not parts or _PART.sub("", compact).strip():
        hint = plan_hints.length(text)
        remedy = f"did you mean {hint}?" if hint else "write it like 3h, 90min, 1h30min or 45s"
        raise ValueError(f"{shown(text)} is no length of time; {remedy}")
    return sum(float(figure) * _UNITS_S[unit] for figure, unit in parts)


def parse_anchor(text: str) -> Anchor:
    """The time that a plan's `start` names. Raises ValueError that names a remedy."""
    return _parsed(text, (*SUN_EVENTS, "now"))


def parse_stop(text: str) -> Anchor:
    """The time that a plan's `stop` names; Now is read, and nowhere offered. Raises ValueError that names a remedy."""
    return _parsed(text, SUN_EVENTS)


def _parsed(text: str, events: Sequence[str]) -> Anchor:
    try:
        return _read(text.strip(), events)
    except ValueError as error:
        what = str(error).partition("; ")[0]
        if light := plan_hints.golden_or_blue(text, "now" not in events):
            raise ValueError(f"{what}; {light}") from None
        if "now" not in events and (at := plan_hints.next_day(text)):
            raise ValueError(f"{what}; write {at}: it is the first {at} after the start, the next day's too") from None
        if "now" not in events and (long := _length(text)):
            raise ValueError(f"{shown(text)} is a length of time; write duration = {long}, in quotes") from None
        meant = " or ".join(_readable(plan_hints.moment(text)))
        if not meant:
            raise
        raise ValueError(f"{what}; did you mean {meant}?") from None


def _length(text: str) -> str | None:
    """A length of time that stands where a time should, as a plan writes it."""
    compact = text.replace(" ", "")
    if _PART.search(compact) and not _PART.sub("", compact):
        return compact
    return plan_hints.length(text) if text[:1].isdigit() and re.search("[a-z]", text) else None


def _readable(texts: list[str]) -> Iterator[str]:
    for text in texts:
        try:
            _read(text, (*SUN_EVENTS, "now"))
        except ValueError:
            continue
        yield text


def _read(text: str, events: Sequence[str]) -> Anchor:
    if word := _WORD.fullmatch(text):
        return _event(word[1], word[2], word[3], events)
    return _iso(text, events)


def _event(name: str, sign: str | None, length: str | None, events: Sequence[str]) -> Anchor:
    if name != "now" and name not in SUN_EVENTS:
        near = plan_hints.nearest(name, events)
        remedy = f"did you mean {near}?" if near else f"use one of {', '.join(events)}"
        raise ValueError(f"{shown(name)} is no sun event; {remedy}")
    offset_s = parse_length(length) * (-1.0 if sign == "-" else 1.0) if length else 0.0
    if abs(offset_s) > _LONGEST_OFFSET_S:
        raise ValueError(f"the offset of {shown(length)} is longer than a day; use a time nearer to the event")
    if name == "now":
        if offset_s < 0:
            raise ValueError("a start before now is in the past; use now, or now+10min")
        return Now(offset_s)
    return Sun(name, offset_s)


def _iso(text: str, events: Sequence[str]) -> Anchor:
    _check_year(text)
    try:
        if not re.fullmatch(START_PATTERN, text):
            raise ValueError("no time as a plan writes it")
        return Local(None, time.fromisoformat(text)) if ":" in text[:3] else _dated(datetime.fromisoformat(text))
    except (ValueError, OverflowError):
        raise ValueError(
            f"{shown(text)} is no time; write a sun event with an offset (sunset-45min), a local time "
            f"(2026-10-03T18:20 or 18:20){', or now' if 'now' in events else ''}"
        ) from None


def _check_year(text: str) -> None:
    """Its pattern refuses such a time too, but does not say why."""
    try:
        year = datetime.fromisoformat(text).year
    except ValueError:
        return
    if not FIRST_YEAR <= year <= LAST_YEAR:
        years = f"{FIRST_YEAR} to {LAST_YEAR}"
        raise ValueError(f"{shown(text)} is outside {years}; give a time within the years that the sun is known for")


def _dated(when: datetime) -> Anchor:
    if when.tzinfo is not None:
        return Fixed(when.timestamp())
    return Local(when.date(), when.time())
