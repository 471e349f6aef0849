"""A reference for sun and moon: JPL's DE421 by skyfield, over the whole of 2026 at ten places, by its own scanning."""

from __future__ import annotations

import atexit
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import skyfield_data
from skyfield.api import Loader, wgs84

PLACES = {
    "Quito": (-0.18, -78.47),
    "Sydney": (-33.87, 151.21),
    "Boulder": (39.74, -105.18),
    "Gothenburg": (57.7, 11.95),
    "Ushuaia": (-54.8, -68.3),
    "Reykjavik": (64.15, -21.94),
    "Tromsø": (69.65, 18.96),
    "Longyearbyen": (78.22, 15.65),
    "McMurdo": (-77.85, 166.67),
    "one degree from the pole": (89.0, 0.0),
}
FROM_UTC, TO_UTC = 1_767_225_600.0, 1_798_761_600.0  # the year 2026
STEP_S = 1200.0  # between these a cubic is within 10⁻⁴° of the altitude
_FINE = 20  # parts of a step that are scanned

_HORIZON_DEG = -34 / 60
_MOON_RADIUS_KM = 1737.4


@dataclass(frozen=True)
class Track:
    """A body from one place, at `utc`, shape (n,): airless altitude and azimuth, degrees, and distance, km."""

    utc: np.ndarray
    altitude: np.ndarray
    azimuth: np.ndarray
    distance: np.ndarray

    def limb(self) -> np.ndarray:
        """How far the moon's upper limb stands above the refracted horizon, degrees."""
        return self.altitude - _HORIZON_DEG + np.degrees(np.arcsin(_MOON_RADIUS_KM / self.distance))


@cache
def opened() -> tuple[Any, Any]:
    """DE421's bodies and skyfield's scale of time; the file stays open until the process ends."""
    load = Loader(str(Path(skyfield_data.__file__).parent / "data"), verbose=False)
    bodies = load("de421.bsp")
    atexit.register(bodies.close)
    return bodies, load.timescale(builtin=True)


@lru_cache(maxsize=1)
def _skyfield(years: float = 1, before: int = 3) -> tuple[Any, Any, np.ndarray]:
    """The bodies, and every 20 minutes of so many years from 2026 on, and some of them before."""
    bodies, scale = opened()
    utc = FROM_UTC + STEP_S * np.arange(-before, years * (TO_UTC - FROM_UTC) / STEP_S + 4)
    return bodies, scale.utc(2026, 1, 1, 0, 0, utc - FROM_UTC), utc


@cache
def transits(place: str, years: float) -> tuple[Track, np.ndarray]:
    """The sun over so many years from 2026 on and the day before, and its passages of the meridian, POSIX seconds."""
    bodies, time, utc = _skyfield(years, 75)
    site = bodies["earth"] + wgs84.latlon(*PLACES[place])
    seen = site.at(time).observe(bodies["sun"]).apparent()
    altitude, azimuth, distance = seen.altaz()
    angle = (seen.hadec()[0].hours + 12) % 24 - 12
    before = np.flatnonzero((angle[:-1] < 0) & (angle[1:] >= 0))
    noons = utc[before] + STEP_S * -angle[before] / (angle[before + 1] - angle[before])
    return Track(utc, altitude.degrees, azimuth.degrees, distance.km), noons


@cache
def track(body: str, place: str) -> Track:
    """`sun` or `moon` over the year, every 20 minutes."""
    bodies, time, utc = _skyfield()
    site = bodies["earth"] + wgs84.latlon(*PLACES[place])
    altitude, azimuth, distance = site.at(time).observe(bodies[body]).apparent().altaz()
    return Track(utc, altitude.degrees, azimuth.degrees, distance.km)


@lru_cache(maxsize=1)
def lit() -> tuple[np.ndarray, np.ndarray]:
    """Moments and the lit share of the moon's disc then, seen from the earth's centre."""
    bodies, time, utc = _skyfield()
    seen = bodies["earth"].at(time).observe(bodies["moon"]).apparent()
    return utc, seen.fraction_illuminated(bodies["sun"])


def crossings(
    utc: np.ndarray, height: np.ndarray, rising: bool, to_utc: float = TO_UTC, from_utc: float = FROM_UTC
) -> np.ndarray:
    """When a height passes zero, upwards or downwards, within the year or from `from_utc` to `to_utc`."""
    share = np.arange(_FINE)[:, None] / _FINE
    a, b, c, d = height[:-3], height[1:-2], height[2:-1], height[3:]
    curve = (
        -a * share * (share - 1) * (share - 2) / 6
        + b * (share + 1) * (share - 1) * (share - 2) / 2
        - c * (share + 1) * share * (share - 2) / 2
        + d * (share + 1) * share * (share - 1) / 6
    ).T.ravel()
    when = (utc[1:-2] + share * STEP_S).T.ravel()
    above = curve >= 0
    here = np.flatnonzero((above[:-1] != above[1:]) & (above[1:] == rising))
    exact = when[here] - curve[here] / (curve[here + 1] - curve[here]) * (STEP_S / _FINE)
    return exact[(exact >= from_utc) & (exact < to_utc)]
