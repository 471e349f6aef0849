"""Once a day: what was got, what is left, what comes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo

from controller.words.phrases import count, size

LATE_S = 6 * 3600.0
"""A rig that was off at the hour tells of the day when it is back, unless that is later than this."""


def latest(at: time, zone: tzinfo, utc: float) -> float:
    """The last moment at which a digest was due, POSIX seconds.

    On a day whose clock leaves the hour out it is due as much later, as PEP 495 reads such a time.
    """
    today = datetime.fromtimestamp(utc, zone).date()
    moments = (datetime.combine(today - timedelta(days=back), at, zone).timestamp() for back in (0, 1, 2))
    return next(moment for moment in moments if moment <= utc)


def due(at: time, zone: tzinfo, last_utc: float, utc: float) -> bool:
    """Whether a digest is to be told now, the last one having been at `last_utc`."""
    moment = latest(at, zone, utc)
    return last_utc < moment and utc - moment <= LATE_S


@dataclass(frozen=True, slots=True)
class Day:
    """What a digest tells; None is not known."""

    done: int
    missed: int
    lost: int
    shoot: str | None
    state: str | None
    free_bytes: int | None
    hours_left: float | None
    card_frames: int | None
    batteries: tuple[tuple[str, int], ...]
    next_utc: float | None
    end_utc: float | None
    standing: tuple[str, ...]
    unsaid: int = 0
    dropped: int = 0


def text(day: Day, zone: tzinfo) -> str:
    """Lines for people; times by their clock."""
    lines = [f"{count(day.done, 'frame')} in the last day, {day.missed} missed, {day.lost} lost"]
    if day.shoot is None:
        lines.append("No shoot is under way")
    elif day.next_utc is not None:
        lines.append(f"{day.shoot}: next window {_clock(day.next_utc, zone)}")
    else:
        until = "" if day.end_utc is None else f", until {_clock(day.end_utc, zone)}"
        lines.append(f"{day.shoot}: {day.state}{until}")
    if day.free_bytes is not None:
        left = "" if day.hours_left is None else f", for {day.hours_left:.0f} h of shooting"
        lines.append(f"Rig's disk: {size(day.free_bytes)} free{left}")
    if day.card_frames is not None:
        lines.append(f"Card: room for {count(day.card_frames, 'frame')}")
    lines += [f"Battery of {camera}: {percent} %" for camera, percent in day.batteries]
    lines += [f"Stands: {line}" for line in day.standing] or ["Nothing needs attention"]
    if day.unsaid:
        lines.append(f"{count(day.unsaid, 'finding')} came and went before it could be told; the log has them")
    if day.dropped:
        lines.append(f"{count(day.dropped, 'message')} could not be kept")
    return "\n".join(lines)


def _clock(utc: float, zone: tzinfo) -> str:
    return f"{datetime.fromtimestamp(utc, UTC).astimezone(zone):%a %d %b %H:%M}"
