"""Where the moon stands, when it rises and sets, and how much of it is lit.

Altitudes are airless and topocentric: the moon is so near that a site sees it up to a degree lower than the earth's
centre would. The series is astral's (Van Flandern & Pulkkinen, ApJS 41 (1979) 391), worked at nodes three hours apart
and carried between them by cubics, which is exact to 10⁻⁴° and makes whole nights cheap.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, get_args

import numpy as np
from astral.moon import moon_position

from controller.decide import horizon, sun
from controller.decide.horizon import Cubic, Floats, Sight, Vector

Phase = Literal[
    "new moon",
    "waxing crescent",
    "first quarter",
    "waxing gibbous",
    "full moon",
    "waning gibbous",
    "last quarter",
    "waning crescent",
]
PHASES: tuple[Phase, ...] = get_args(Phase)

_NODE_S = 10_800.0
_REFRACTION_DEG = 34 / 60  # at the horizon, by the almanacs' convention
_RADIUS = 0.2725  # of the moon, in radii of the earth
_SUN_DISTANCE = 23_455.0  # in radii of the earth
_PRINCIPAL_DEG = 6.1  # what the moon gains on the sun in half a day


@dataclass(frozen=True, slots=True)
class Moon:
    """The moon as it lights a scene: topocentric altitude and elongation from the sun (180° is full), degrees."""

    altitude_deg: float
    elongation_deg: float


@dataclass(frozen=True, slots=True)
class MoonEvent:
    """`moonrise`, `moonset` or one of the four principal phases, and POSIX seconds."""

    name: str
    utc: float


def moon(latitude: float, longitude: float, utc: float) -> Moon:
    """The moon at a moment, good to 0.015° in altitude. Raises BadInput: bad-place, bad-date."""
    return moon_from(horizon.sight(latitude, longitude, utc), sun.direction(utc), utc)


def moon_from(sight: Sight, sun_direction: Vector, utc: float) -> Moon:
    """The same from a site's sight and the sun's direction at that moment."""
    vector = _vector(utc)
    up, north, east = horizon.seen_along(sight, vector)
    return Moon(math.degrees(math.atan2(up - 1.0, math.hypot(north, east))), _elongation_deg(sun_direction, vector))


def moon_position_deg(latitude: float, longitude: float, utc: float) -> tuple[float, float]:
    """Topocentric altitude and azimuth (from north through east) of the moon's centre, degrees. Raises as `moon`."""
    up, north, east = horizon.seen_along(horizon.sight(latitude, longitude, utc), _vector(utc))
    altitude, azimuth = math.atan2(up - 1.0, math.hypot(north, east)), math.atan2(east, north)
    return math.degrees(altitude), math.degrees(azimuth) % 360.0


def moon_altitude(latitude: float, longitude: float, utc: float) -> float:
    """Topocentric altitude of the moon's centre, degrees, airless. Raises as `moon`."""
    return moon_position_deg(latitude, longitude, utc)[0]


def moon_altitudes(latitude: float, longitude: float, utc: Floats) -> Floats:
    """The same for an array of POSIX seconds; same shape. Raises BadInput: bad-place, bad-date."""
    return _above(latitude, longitude, np.asarray(utc, dtype=np.float64), 0.0, 0.0)


def moon_is_up(latitude: float, longitude: float, utc: float) -> bool:
    """Whether its upper limb stands above the horizon, by the same convention as `moon_events`. Raises as `moon`."""
    return bool(_above(latitude, longitude, np.array([utc]), _REFRACTION_DEG, _RADIUS)[0] >= 0)


def illuminated(utc: float) -> float:
    """The share of the moon's disc that is lit, 0 … 1 (Meeus, Astronomical Algorithms, 48.1 and 48.3)."""
    vector = _vector(utc)
    psi, distance = math.radians(_elongation_deg(sun.direction(utc), vector)), math.hypot(*vector)
    angle = math.atan2(_SUN_DISTANCE * math.sin(psi), distance - _SUN_DISTANCE * math.cos(psi))
    return (1 + math.cos(angle)) / 2


def phase_deg(utc: float) -> float:
    """How far the moon is ahead of the sun in ecliptic longitude, 0 … 360°: 0 new, 90 first quarter, 180 full."""
    horizon.check_time(utc)
    return float(_ahead_deg(np.array([utc]))[0]) % 360.0


def phase_name(phase_deg: float) -> Phase:
    """The name of a phase; a principal one within half a day of its instant."""
    quarter = round(phase_deg / 90.0)
    if abs(phase_deg - 90.0 * quarter) <= _PRINCIPAL_DEG:
        return PHASES[2 * quarter % 8]
    return PHASES[2 * int(phase_deg // 90.0) % 8 + 1]


def moon_events(latitude: float, longitude: float, from_utc: float, to_utc: float) -> list[MoonEvent]:
    """Every moonrise and moonset with from_utc ≤ utc < to_utc, in order of time: the upper limb, refracted by 34′.

    Near a pole there may be none for days. Raises BadInput: bad-place, bad-date.
    """
    found = horizon.crossings(
        lambda utc: _above(latitude, longitude, utc, _REFRACTION_DEG, _RADIUS), _grid(from_utc, to_utc), (0.0,)
    )
    named = (MoonEvent("moonrise" if c.rising else "moonset", c.utc) for c in found)
    return sorted((e for e in named if from_utc <= e.utc < to_utc), key=lambda e: e.utc)


def phases(from_utc: float, to_utc: float) -> list[MoonEvent]:
    """Instants of the principal phases with from_utc ≤ utc < to_utc, in order of time. Raises BadInput (bad-date)."""
    utc = _grid(from_utc, to_utc)[::15]
    found: list[MoonEvent] = []
    for quarter in range(4):

        def short(t: Floats, at_deg: float = 90.0 * quarter) -> Floats:
            return np.asarray((_ahead_deg(t) - at_deg + 180.0) % 360.0 - 180.0)

        here = [c for c in horizon.crossings(short, utc, (0.0,)) if c.rising]
        found += [MoonEvent(PHASES[2 * quarter], c.utc) for c in here]
    return sorted((e for e in found if from_utc <= e.utc < to_utc), key=lambda e: e.utc)


def _grid(from_utc: float, to_utc: float) -> Floats:
    horizon.check_time(from_utc, to_utc)
    return horizon.grid(from_utc, to_utc)


def _above(latitude: float, longitude: float, utc: Floats, lifted_deg: float, radius: float) -> Floats:
    """Topocentric altitude, degrees, lifted by a refraction and by a radius in radii of the earth."""
    horizon.check_place(latitude, longitude)
    if utc.size == 0:
        return np.zeros_like(utc)
    horizon.check_time(float(utc.min()), float(utc.max()))
    x, y, z = _vectors(utc)
    angle = np.radians(horizon.sidereals_deg(utc) + longitude)
    phi = math.radians(latitude)
    up = math.sin(phi) * z + math.cos(phi) * (x * np.cos(angle) + y * np.sin(angle))
    distance = np.sqrt(x * x + y * y + z * z)
    altitude = np.arctan2(up - 1.0, np.sqrt(distance * distance - up * up))
    return np.asarray(np.degrees(altitude + radius / distance) + lifted_deg)


def _elongation_deg(sun_direction: Vector, vector: Vector) -> float:
    x, y, z = vector
    a, b, c = sun_direction
    cosine = (x * a + y * b + z * c) / math.hypot(x, y, z)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


def _ahead_deg(utc: Floats) -> Floats:
    """Apparent ecliptic longitude of the moon less that of the sun, degrees, not reduced."""
    x, y, z = _vectors(utc)
    t = horizon.centuries(utc)
    obliquity = np.radians(23.4392911 - 0.0130042 * t)
    moon_deg = np.degrees(np.arctan2(y * np.cos(obliquity) + z * np.sin(obliquity), x))
    return np.asarray(moon_deg - sun.longitudes(t))


def _vector(utc: float) -> Vector:
    """Towards the moon by the equator and equinox of date, from the earth's centre, in its radii."""
    horizon.check_time(utc)
    node = math.floor(utc / _NODE_S)
    return horizon.at_share(_cubics(node), utc / _NODE_S - node)


@lru_cache(maxsize=128)
def _cubics(node: int) -> tuple[Cubic, Cubic, Cubic]:
    return horizon.cubics(_node(node - 1), _node(node), _node(node + 1), _node(node + 2))


def _vectors(utc: Floats) -> Floats:
    """The same for an array; shape (3, …)."""
    step = np.floor(utc / _NODE_S).astype(np.int64)
    first = int(step.min()) - 1
    table = np.array([_node(k) for k in range(first, int(step.max()) + 3)]).T
    at = step - first
    weights = _weights(utc / _NODE_S - step)
    return np.asarray(sum(w * table[:, at + k - 1] for k, w in enumerate(weights)))


def _weights(share: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Of the nodes at −1, 0, 1 and 2, for the cubic through them."""
    before, after, beyond = share + 1.0, share - 1.0, share - 2.0
    return (
        -share * after * beyond / 6.0,
        before * after * beyond / 2.0,
        -before * share * beyond / 2.0,
        before * share * after / 6.0,
    )


@lru_cache(maxsize=128)
def _node(step: int) -> Vector:
    body = moon_position(horizon.days(step * _NODE_S) + horizon.DELTA_T_S / 86400.0)
    level = body.distance * math.cos(body.declination)
    return (
        level * math.cos(body.right_ascension),
        level * math.sin(body.right_ascension),
        body.distance * math.sin(body.declination),
    )
