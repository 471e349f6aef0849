"""The time zone of a place: what to write in place of a name that the IANA database does not have."""

from __future__ import annotations

import math
import re
from functools import lru_cache
from importlib.resources import files

from controller.decide import plan_hints

_WHERE = re.compile(r"([+-])(\d{2})(\d{2})(\d{2})?([+-])(\d{3})(\d{2})(\d{2})?")


def zone_remedy(wrong: str, latitude: float, longitude: float) -> str:
    """What to write: a name of nearly the same letters, else the zones whose cities are nearest to the place."""
    if near := plan_hints.zone(wrong):
        return f"Did you mean {near}?"
    return f"Use a name of the IANA database; near that place are {', '.join(nearest(latitude, longitude))}"


def nearest(latitude: float, longitude: float, count: int = 3) -> list[str]:
    """Zones by the great circle from the place, degrees, to the city that each is named for, the nearest first."""
    place = _towards(latitude, longitude)
    apart = {name: sum((a - b) ** 2 for a, b in zip(place, city, strict=True)) for name, city in _cities().items()}
    return sorted(apart, key=lambda name: apart[name])[:count]


@lru_cache(maxsize=1)
def _cities() -> dict[str, tuple[float, float, float]]:
    """Of the database's table zone.tab, which gives them by ISO 6709: ±DDMM±DDDMM, or with seconds."""
    table = files("tzdata.zoneinfo").joinpath("zone.tab").read_text("utf-8")
    found = {}
    for line in table.splitlines():
        if not line.startswith("#"):
            where, name = line.split("\t")[1:3]
            if at := _WHERE.fullmatch(where):
                found[name] = _towards(_degrees(*at.groups()[:4]), _degrees(*at.groups()[4:]))
    return found


def _degrees(sign: str, degrees: str, minutes: str, seconds: str | None) -> float:
    return (-1 if sign == "-" else 1) * (int(degrees) + int(minutes) / 60 + int(seconds or 0) / 3600)


def _towards(latitude: float, longitude: float) -> tuple[float, float, float]:
    north, east = math.radians(latitude), math.radians(longitude)
    return math.cos(north) * math.cos(east), math.cos(north) * math.sin(east), math.sin(north)
