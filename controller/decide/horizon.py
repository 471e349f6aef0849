"""From the equator's coordinates to those of a horizon, and the moments at which a body crosses an altitude.

Formulas: Meeus, Astronomical Algorithms, 2nd ed., chapters 12, 13 and 22. Angles are radians unless named `_deg`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from controller.words.errors import BadInput

Floats = NDArray[np.float64]
Vector = tuple[float, float, float]
Cubic = tuple[float, float, float, float]
Sight = tuple[float, float, float, float]
Value = TypeVar("Value", float, Floats)

FIRST_UTC, LAST_UTC = -2_240_524_800.0, 4_165_516_800.0  # 1899 to the end of 2101: for these the series hold

J2000_UTC = 946_728_000.0
DELTA_T_S = 69.0  # terrestrial time minus UTC in the 2020s (IERS Bulletins A and C); 72 s off in 1900: 0.01° of moon
_SCAN_S = 120.0
_REFINEMENTS = 6


@dataclass(frozen=True, slots=True)
class Crossing:
    """A body's altitude passes levels[level] at a moment, POSIX seconds."""

    utc: float
    level: int
    rising: bool


def check_place(latitude: float, longitude: float) -> None:
    """Raises BadInput (bad-place) unless latitude is −90 … 90° and longitude −180 … 180°; NaN is neither."""
    if not -90 <= latitude <= 90:
        raise BadInput("bad-place", f"{latitude:g} is no latitude", "latitude", "Give degrees from -90 to 90")
    if not -180 <= longitude <= 180:
        raise BadInput("bad-place", f"{longitude:g} is no longitude", "longitude", "Give degrees from -180 to 180")


def check_time(*utc: float) -> None:
    """Raises BadInput (bad-date) for POSIX seconds outside the years 1899 to 2101, NaN and infinity among them."""
    for moment in utc:
        if not FIRST_UTC <= moment <= LAST_UTC:
            what = f"{moment:.0f} s after 1970 is outside the years 1899 to 2101"
            raise BadInput("bad-date", what, "utc", "Give a moment for which sun and moon are known")


def days(utc: Value) -> Value:
    """Days of UTC since J2000."""
    return (utc - J2000_UTC) / 86400.0


def centuries(utc: Value) -> Value:
    """Julian centuries of terrestrial time since J2000."""
    return (utc - J2000_UTC + DELTA_T_S) / 3_155_760_000.0


def node(centuries: Value) -> Value:
    """Longitude of the moon's ascending node, which nutation follows (Meeus chapter 22)."""
    return (125.04 - 1934.136 * centuries) * (math.pi / 180)


def sidereal_deg(utc: float) -> float:
    """Apparent sidereal time at Greenwich, degrees, with UT1 taken as UTC (Meeus 12.4, and nutation's main term)."""
    t = centuries(utc)
    return 280.46061837 + 360.98564736629 * days(utc) - 0.00439 * math.sin(node(t))


def sidereals_deg(utc: Floats) -> Floats:
    """The same for an array."""
    t = centuries(utc)
    return np.asarray(280.46061837 + 360.98564736629 * days(utc) - 0.00439 * np.sin(node(t)))


def seen(latitude_deg: float, hour_angle: float, declination: float) -> tuple[float, float]:
    """Altitude and azimuth (from north through east, 0 … 2π) of a direction (Meeus 13.5, 13.6)."""
    phi = math.radians(latitude_deg)
    up = math.sin(phi) * math.sin(declination) + math.cos(phi) * math.cos(declination) * math.cos(hour_angle)
    north = math.cos(phi) * math.sin(declination) - math.sin(phi) * math.cos(declination) * math.cos(hour_angle)
    east = -math.cos(declination) * math.sin(hour_angle)
    return math.atan2(up, math.hypot(north, east)), math.atan2(east, north) % (2 * math.pi)


def sight(latitude_deg: float, longitude_deg: float, utc: float) -> Sight:
    """How a site lies to the equator and equinox of date: cosine and sine of its sidereal time and of its latitude.

    Raises BadInput: bad-place, bad-date.
    """
    check_place(latitude_deg, longitude_deg)
    check_time(utc)
    angle, phi = math.radians(sidereal_deg(utc) + longitude_deg), math.radians(latitude_deg)
    return math.cos(angle), math.sin(angle), math.cos(phi), math.sin(phi)


def seen_along(sight: Sight, vector: Vector) -> Vector:
    """A vector by the equator and equinox of date as a site sees it: its parts up, to the north, and to the east."""
    x, y, z = vector
    cosine, sine, level, high = sight
    along = x * cosine + y * sine
    return high * z + level * along, level * z - high * along, y * cosine - x * sine


def cubics(before: Vector, here: Vector, after: Vector, beyond: Vector) -> tuple[Cubic, Cubic, Cubic]:
    """For each part of a vector the cubic through its values at −1, 0, 1 and 2: the coefficients, constant first."""
    x, y, z = (
        (b, c - b / 2 - a / 3 - d / 6, (a + c) / 2 - b, (b - c) / 2 + (d - a) / 6)
        for a, b, c, d in zip(before, here, after, beyond, strict=True)
    )
    return x, y, z


def at_share(parts: tuple[Cubic, Cubic, Cubic], share: float) -> Vector:
    """The vector at a share of the way from 0 to 1."""
    (a, b, c, d), (e, f, g, h), (i, j, k, m) = parts
    return (
        a + share * (b + share * (c + share * d)),
        e + share * (f + share * (g + share * h)),
        i + share * (j + share * (k + share * m)),
    )


def grid(from_utc: float, to_utc: float) -> Floats:
    """Moments to scan, 120 s apart, from before the one to after the other."""
    count = max(2, math.ceil((to_utc - from_utc) / _SCAN_S) + 2)
    return from_utc - _SCAN_S / 2 + _SCAN_S * np.arange(count, dtype=np.float64)


def crossings(altitudes: Callable[[Floats], Floats], utc: Floats, levels: Sequence[float]) -> list[Crossing]:
    """Every crossing of every level between the first and the last of `utc`, which lie close, in no order.

    Altitude is scanned for changes of sign. Its turning points are put among the moments that are scanned, so that a
    body which only grazes a level between two of them is not missed.
    """
    height = altitudes(utc)
    turns = _turns(utc, height)
    if turns.size:
        utc = np.concatenate((utc, turns))
        order = np.argsort(utc)
        utc, height = utc[order], np.concatenate((height, altitudes(turns)))[order]
    above = height[None, :] >= np.asarray(levels)[:, None]
    which, here = np.nonzero(above[:, :-1] != above[:, 1:])
    if not which.size:
        return []
    level = np.asarray(levels, dtype=np.float64)[which]
    before, after = height[here] - level, height[here + 1] - level
    exact = _root(lambda t: altitudes(t) - level, utc[here], utc[here + 1], before, after)
    return [Crossing(float(t), int(k), not was) for t, k, was in zip(exact, which, above[which, here], strict=True)]


def _turns(utc: Floats, height: Floats) -> Floats:
    """Where altitude turns, by the parabola through the three samples around each extreme."""
    before, after = height[1:-1] - height[:-2], height[2:] - height[1:-1]
    here = np.flatnonzero(before * after < 0)
    bend = after[here] - before[here]
    step = utc[here + 2] - utc[here + 1]
    return np.asarray(utc[here + 1] - step * (before[here] + after[here]) / (2 * bend))


def _root(value: Callable[[Floats], Floats], a: Floats, b: Floats, at_a: Floats, at_b: Floats) -> Floats:
    """Zeros between brackets: false position, with the value halved at an end that stays (the Illinois rule)."""
    best = b
    for _ in range(_REFINEMENTS):
        best = b - at_b * (b - a) / (at_b - at_a)
        at_best = value(best)
        crossed = (at_best >= 0) != (at_b >= 0)
        a, at_a = np.where(crossed, b, a), np.where(crossed, at_b, at_a / 2)
        b, at_b = best, at_best
        flat = at_b == at_a
        at_a = np.where(flat, at_b - 1e-12, at_a)
    return np.asarray(best)
