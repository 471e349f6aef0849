"""Clock times as people read them: by the clock of the place that is shot from. Documents and the log keep UTC."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError


def zone_of(timezone: str | None) -> ZoneInfo:
    """The zone of that name, or UTC."""
    try:
        return ZoneInfo(timezone or "UTC")
    except (ZoneInfoNotFoundError, ValueError):
        return ZoneInfo("UTC")


def clock(utc: float, zone: ZoneInfo) -> str:
    """'18:42:10'; '17:42:10Z' where the place has no zone but UTC."""
    return f"{datetime.fromtimestamp(utc, zone):%H:%M:%S}{_mark(zone)}"


def moment(utc: float, zone: ZoneInfo) -> str:
    """'2026-12-01 16:06:09', with 'Z' as `clock`."""
    return f"{day(utc, zone).isoformat()} {clock(utc, zone)}"


def to_the_minute(utc: float, zone: ZoneInfo) -> str:
    """'2026-12-01 16:06', with 'Z' as `clock`."""
    return f"{datetime.fromtimestamp(utc, zone):%Y-%m-%d %H:%M}{_mark(zone)}"


def day(utc: float, zone: ZoneInfo) -> date:
    """The local day."""
    return datetime.fromtimestamp(utc, zone).date()


def span(first_utc: float, last_utc: float, zone: ZoneInfo) -> str:
    """'18:42:10', or '18:42:10 – 18:42:35', with the date of a later day."""
    if clock(first_utc, zone) == clock(last_utc, zone) and last_utc - first_utc < 1:
        return clock(first_utc, zone)
    days = [day(utc, zone) for utc in (first_utc, last_utc)]
    date_ = "" if days[0] == days[1] else f"{days[1].isoformat()} "
    return f"{clock(first_utc, zone)} – {date_}{clock(last_utc, zone)}"


def _mark(zone: ZoneInfo) -> str:
    return "Z" if zone.key == "UTC" else ""
