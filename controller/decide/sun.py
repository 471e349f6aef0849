"""Where the sun stands, and when it crosses the altitudes that photographers name.

Altitudes are airless: geometric, of the sun's centre, seen from the site. Only sunrise and sunset allow for refraction
and the sun's radius, by counting at −50′ (the almanacs' convention, 34′ + 16′). Single positions come from astral,
worked at nodes three hours apart and carried between them by cubics, which is exact to 10⁻⁹°; whole nights from the
same theory (Meeus, Astronomical Algorithms, 2nd ed., chapter 25) in numpy, since a plan asks for thousands of values at
once; with the largest of the planets' pulls, since an event that grazes its altitude moves by a minute for each 0.005°.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from astral.sun import sun_declination, sun_rt_ascension

from controller.decide import horizon
from controller.decide.horizon import Cubic, Floats, Sight, Vector

SUN_EVENTS: tuple[str, ...] = (
    "astronomical_dawn",
    "nautical_dawn",
    "civil_dawn",
    "sunrise",
    "noon",
    "sunset",
    "civil_dusk",
    "nautical_dusk",
    "astronomical_dusk",
)
RISE_SET_DEG = -50 / 60
EVENT_ALTITUDE_DEG: dict[str, float] = {
    "astronomical_dawn": -18.0,
    "nautical_dawn": -12.0,
    "civil_dawn": -6.0,
    "sunrise": RISE_SET_DEG,
    "sunset": RISE_SET_DEG,
    "civil_dusk": -6.0,
    "nautical_dusk": -12.0,
    "astronomical_dusk": -18.0,
}
_RISING = {level: name for name, level in EVENT_ALTITUDE_DEG.items() if name.endswith("dawn") or name == "sunrise"}
_SETTING = {level: name for name, level in EVENT_ALTITUDE_DEG.items() if name not in _RISING.values()}
_LEVELS = tuple(_RISING)

NODE_S = 10_800.0
_PARALLAX_DEG = 0.00244  # 8.794″, the sun's horizontal parallax


@dataclass(frozen=True, slots=True)
class SunEvent:
    """One crossing: a name of SUN_EVENTS and POSIX seconds."""

    name: str
    utc: float


def equatorial(utc: float) -> tuple[float, float]:
    """Apparent right ascension and declination of the sun, radians (astral)."""
    century = horizon.centuries(utc)
    return math.radians(sun_rt_ascension(century)), math.radians(sun_declination(century))


def direction(utc: float) -> Vector:
    """Towards the sun by the equator and equinox of date, length 1."""
    node = math.floor(utc / NODE_S)
    return horizon.at_share(_cubics(node), utc / NODE_S - node)


def position(latitude: float, longitude: float, utc: float) -> tuple[float, float]:
    """Altitude and azimuth (from north through east) of the sun, degrees; good to 0.01°.

    Raises BadInput: bad-place, bad-date outside the years 1899 to 2101.
    """
    return position_from(horizon.sight(latitude, longitude, utc), direction(utc))


def position_from(sight: Sight, direction: Vector) -> tuple[float, float]:
    """The same from a site's sight and the sun's direction at a moment."""
    up, north, east = horizon.seen_along(sight, direction)
    return _lowered_deg(up, north, east), math.degrees(math.atan2(east, north)) % 360.0


def altitude(latitude: float, longitude: float, utc: float) -> float:
    """Altitude of the sun, degrees; good to 0.01°. Raises as `position`."""
    return _lowered_deg(*horizon.seen_along(horizon.sight(latitude, longitude, utc), direction(utc)))


def _lowered_deg(up: float, north: float, east: float) -> float:
    level = math.hypot(north, east)
    return math.degrees(math.atan2(up, level)) - _PARALLAX_DEG * level


@lru_cache(maxsize=128)
def _cubics(node: int) -> tuple[Cubic, Cubic, Cubic]:
    return horizon.cubics(_node(node - 1), _node(node), _node(node + 1), _node(node + 2))


@lru_cache(maxsize=128)
def _node(node: int) -> Vector:
    right_ascension, declination = equatorial(node * NODE_S)
    level = math.cos(declination)
    return level * math.cos(right_ascension), level * math.sin(right_ascension), math.sin(declination)


def altitudes(latitude: float, longitude: float, utc: Floats) -> Floats:
    """Altitudes of the sun, degrees, for an array of POSIX seconds; same shape; good to 0.003°.

    Raises BadInput: bad-place, bad-date.
    """
    horizon.check_place(latitude, longitude)
    moments = np.asarray(utc, dtype=np.float64)
    if moments.size:
        horizon.check_time(float(moments.min()), float(moments.max()))
    declination, hour_angle = _sun(longitude, moments)
    phi = math.radians(latitude)
    sine = math.sin(phi) * np.sin(declination) + math.cos(phi) * np.cos(declination) * np.cos(hour_angle)
    altitude = np.arcsin(np.clip(sine, -1.0, 1.0))
    return np.asarray(np.degrees(altitude) - _PARALLAX_DEG * np.cos(altitude))


def events(latitude: float, longitude: float, from_utc: float, to_utc: float) -> list[SunEvent]:
    """Every sun event with from_utc ≤ utc < to_utc, in order of time; `noon` is the upper transit.

    What does not happen, under a polar day or in a white night, is not in the list. Raises BadInput: bad-place,
    bad-date.
    """
    horizon.check_place(latitude, longitude)
    horizon.check_time(from_utc, to_utc)
    utc = horizon.grid(from_utc, to_utc)
    found = [
        SunEvent((_RISING if c.rising else _SETTING)[_LEVELS[c.level]], c.utc)
        for c in horizon.crossings(lambda t: altitudes(latitude, longitude, t), utc, _LEVELS)
    ]
    _, hour_angle = _sun(longitude, utc)
    east = hour_angle < 0
    here = np.flatnonzero(east[:-1] & ~east[1:])
    share = -hour_angle[here] / (hour_angle[here + 1] - hour_angle[here])
    found += [SunEvent("noon", float(t)) for t in utc[here] + share * (utc[1] - utc[0])]
    return sorted((e for e in found if from_utc <= e.utc < to_utc), key=lambda e: e.utc)


def longitudes(centuries: Floats) -> Floats:
    """Apparent ecliptic longitude of the sun, degrees, for Julian centuries of terrestrial time since J2000.

    Meeus chapter 25, and the perturbations by Venus, Jupiter and the moon from his Astronomical Formulae for
    Calculators, chapter 18 (from memory, held by the comparison with DE421); nutation by its two largest terms.
    """
    t, old = centuries, centuries + 1.0  # `old` counts from 1900, as the older book does
    mean = 280.46646 + t * (36000.76983 + 0.0003032 * t)
    anomaly = np.radians(357.52911 + t * (35999.05029 - 0.0001537 * t))
    centre = (
        (1.914602 - t * (0.004817 + 0.000014 * t)) * np.sin(anomaly)
        + (0.019993 - 0.000101 * t) * np.sin(2 * anomaly)
        + 0.000289 * np.sin(3 * anomaly)
    )
    venus = 0.00134 * np.cos(np.radians(153.23 + 22518.7541 * old))
    venus += 0.00154 * np.cos(np.radians(216.57 + 45037.5082 * old))
    jupiter = 0.00200 * np.cos(np.radians(312.69 + 32964.3577 * old))
    moon = 0.00179 * np.sin(np.radians(350.74 + 445267.1142 * old - 0.00144 * old * old))
    slow = 0.00178 * np.sin(np.radians(231.19 + 20.20 * old))
    nutation = -0.00478 * np.sin(horizon.node(t)) - 0.00037 * np.sin(np.radians(2 * mean))
    return np.asarray(mean + centre + venus + jupiter + moon + slow + nutation - 0.00569)


def _sun(longitude: float, utc: Floats) -> tuple[Floats, Floats]:
    """Declination and local hour angle (−π…π) of the sun, radians."""
    t = horizon.centuries(utc)
    apparent = np.radians(longitudes(t))
    obliquity = np.radians(23.4392911 - 0.0130042 * t + 0.00256 * np.cos(horizon.node(t)))
    right_ascension = np.arctan2(np.cos(obliquity) * np.sin(apparent), np.cos(apparent))
    declination = np.arcsin(np.sin(obliquity) * np.sin(apparent))
    hour_angle = np.radians(horizon.sidereals_deg(utc) + longitude) - right_ascension
    return declination, np.asarray((hour_angle + math.pi) % (2 * math.pi) - math.pi)
