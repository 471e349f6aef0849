"""The moments that a plan's words name, by the sun and the clock of a place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from types import MappingProxyType
from zoneinfo import ZoneInfo

import numpy as np

from controller.decide import anchors
from controller.decide.plan.tables import Site
from controller.decide.sun import EVENT_ALTITUDE_DEG, SUN_EVENTS, altitudes, events
from controller.words.errors import BadInput


@dataclass(eq=False)
class NoSuchEvent(BadInput):
    """A sun event that a plan names does not happen on a day."""

    event: str = ""
    day: date = date.min


def moment(site: Site, anchor: anchors.Anchor, day: date, now_utc: float | None, key: str) -> float:
    match anchor:
        case anchors.Now(offset_s):
            if now_utc is None:
                raise BadInput("bad-plan", "now names no day", f"[when] {key}", "Use a sun event, or a time")
            return now_utc + offset_s
        case anchors.Fixed(utc):
            return utc
        case anchors.Local(given, at):
            return datetime.combine(given or day, at, site.zone).timestamp()
        case anchors.Sun(event, offset_s):
            happens = sun_events(site.latitude, site.longitude, site.timezone, day)
            if event not in happens:
                raise NoSuchEvent("no-such-event", _absence(site, event, day), f"[when] {key}", event=event, day=day)
            return happens[event] + offset_s


@lru_cache(maxsize=1024)
def sun_events(latitude: float, longitude: float, timezone: str, day: date) -> Mapping[str, float]:
    """The sun events of a local day, POSIX seconds by name; what does not happen is absent.

    A sun's day lasts from one lower transit to the next around the noon of that date, so that an evening's events
    belong together even where the clock passes midnight between them.
    """
    clock = datetime.combine(day, time(12), ZoneInfo(timezone))
    summer_s = (clock.dst() or timedelta(0)).total_seconds()  # left out, or a change of the clock could double a day
    noon = round(clock.timestamp() + summer_s + longitude * 240.0)
    mean_noon = noon - (noon % 86400 - 43200.0) - longitude * 240.0
    near = events(latitude, longitude, mean_noon - 2400.0, mean_noon + 2400.0)
    transit = next((e.utc for e in near if e.name == "noon"), mean_noon)
    found = {e.name: e.utc for e in events(latitude, longitude, transit - 43200.0, transit + 43200.0)}
    return MappingProxyType(found)


def _absence(site: Site, event: str, day: date) -> str:
    """Why a sun event does not happen on a day."""
    noon = datetime.combine(day, time(12), site.zone).timestamp()
    height = altitudes(site.latitude, site.longitude, noon + np.arange(-43200.0, 43200.0, 300.0))
    level = EVENT_ALTITUDE_DEG.get(event, 0.0)
    low, high = float(height.min()), float(height.max())
    reach = f"stays above {low:.1f}°" if high > level else f"stays below {high:.1f}°"
    return f"there is no {event} at latitude {site.latitude:g} on {day}: the sun {reach}"


def instead_of(site: Site, event: str, day: date) -> str:
    """What can be had instead: the events of that day, and the next day that has the one asked for."""
    there = sun_events(site.latitude, site.longitude, site.timezone, day)
    noon = datetime.combine(day, time(12), site.zone).timestamp()
    later = next((e for e in events(site.latitude, site.longitude, noon, noon + 366 * 86400) if e.name == event), None)
    remedy = f"That day has {', '.join(name for name in SUN_EVENTS if name in there) or 'none'}"
    if later is not None:
        remedy += f"; the next {event} is on {datetime.fromtimestamp(later.utc, site.zone).date()}"
    return remedy
