"""How bright it is outdoors: sun, moon, stars and town, as illuminance of the ground in lux.

Sun and moon: Janiczek & DeYoung, "Computer Programs for Sun and Moon Illuminance", USNO Circular 171 (1987). Below
−9° of sun altitude, where that formula is not meant to be used, the fall of the zenith's luminance in the V band is
followed instead: Patat, Ugolnikov & Postylyakov, A&A 455 (2006) 385, table 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from astral import Observer, moon
from astral.sun import azimuth, elevation

#: Starlight and airglow, USNO Circular 171.
NIGHT_LX = 0.0005
_JOIN_DEG = -9.0
_ZENITH_DEG = (-15.0, -12.0, -9.0)
_ZENITH_CD = (0.00032, 0.00146, 0.0171)  # Patat et al. 2006, evaluated
_ZENITH_NIGHT_CD = 0.00022  # what of it is the night sky's own


@dataclass(frozen=True)
class Place:
    """Degrees, north and east positive."""

    latitude: float
    longitude: float


@dataclass(frozen=True)
class Lights:
    """Sun and moon for one moment: angles in degrees (altitudes as seen, with refraction), illuminances in lux."""

    sun_altitude: float
    sun_azimuth: float
    moon_altitude: float
    moon_azimuth: float
    moon_elongation: float
    direct_lx: float
    sky_lx: float
    moon_lx: float


def _air_mass(altitude_deg: float) -> float:
    """Optical air mass of a homogeneous shell, USNO Circular 171."""
    h, radius = math.radians(altitude_deg), 753.66156
    s = math.asin(radius * math.cos(h) / (radius + 1))
    return radius * (math.cos(s) - math.sin(h)) + math.cos(s)


def _atmosphere(altitude_deg: float) -> tuple[float, float]:
    """Shares of a body's light outside the air that reach the ground straight and by way of the sky."""
    u, mass = math.sin(math.radians(altitude_deg)), _air_mass(altitude_deg)
    straight = u * math.exp(-0.21 * mass)
    scattered = 0.0289 * math.exp(-0.042 * mass) * (1 + (altitude_deg + 90) * u / 57.29577951)
    return straight, scattered


def sunlight(altitude_deg: float) -> tuple[float, float]:
    """Illuminance by the sun, straight and by way of the sky, lux, for its altitude as seen."""
    straight, scattered = _atmosphere(max(altitude_deg, _JOIN_DEG))
    direct, sky = max(0.0, 133_775 * straight), 133_775 * (scattered + min(0.0, straight))
    if altitude_deg < _JOIN_DEG:
        own = np.log(np.subtract(_ZENITH_CD, _ZENITH_NIGHT_CD))
        slope = (own[1] - own[0]) / (_ZENITH_DEG[1] - _ZENITH_DEG[0])
        below = min(0.0, altitude_deg - _ZENITH_DEG[0])
        sky *= math.exp(float(np.interp(altitude_deg, _ZENITH_DEG, own) - own[2] + slope * below))
    return direct, sky


def moonlight(altitude_deg: float, elongation_deg: float) -> float:
    """Illuminance by the moon, lux; `elongation_deg` from the sun, 180 when full."""
    if altitude_deg < -0.8:
        return 0.0
    e = math.radians(max(1e-3, min(elongation_deg, 179.999)))
    phase = 0.892 * math.exp(-3.343 / math.tan(e / 2) ** 0.632) + 0.0344 * (math.sin(e) - e * math.cos(e))
    near = 1 - 0.005 * math.cos(e) - 0.03 * math.sin(math.radians(altitude_deg))
    return 0.418 * phase / near * max(0.0, sum(_atmosphere(altitude_deg)))


def separation(altitude_1: float, azimuth_1: float, altitude_2: float, azimuth_2: float) -> float:
    """The angle between two directions, degrees."""
    a, b, turn = (math.radians(v) for v in (altitude_1, altitude_2, azimuth_2 - azimuth_1))
    cosine = math.sin(a) * math.sin(b) + math.cos(a) * math.cos(b) * math.cos(turn)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


def lights(place: Place, utc: float) -> Lights:
    """Sun and moon over a place, `utc` in POSIX seconds."""
    observer, at = Observer(place.latitude, place.longitude, 0.0), datetime.fromtimestamp(utc, UTC)
    sun_altitude = elevation(observer, at, with_refraction=True)
    airless = moon.elevation(observer, at)
    moon_altitude = airless - 0.9507 * math.cos(math.radians(airless))  # seen from the surface
    sun_azimuth, moon_azimuth = azimuth(observer, at), moon.azimuth(observer, at)
    elongation = separation(sun_altitude, sun_azimuth, moon_altitude, moon_azimuth)
    direct, sky = sunlight(sun_altitude)
    return Lights(
        sun_altitude=sun_altitude,
        sun_azimuth=sun_azimuth,
        moon_altitude=moon_altitude,
        moon_azimuth=moon_azimuth,
        moon_elongation=elongation,
        direct_lx=direct,
        sky_lx=sky,
        moon_lx=moonlight(moon_altitude, elongation),
    )


def sunset_azimuth(place: Place, utc: float) -> float:
    """Where the sun sets next, degrees; where it is lowest within a day if it does not cross the horizon."""
    observer, start = Observer(place.latitude, place.longitude, 0.0), datetime.fromtimestamp(utc, UTC)
    times = [start + timedelta(minutes=4 * k) for k in range(361)]
    heights = [elevation(observer, t, with_refraction=False) for t in times]
    setting = [t for t, a, b in zip(times, heights, heights[1:], strict=False) if a > 0 >= b]
    return azimuth(observer, setting[0] if setting else times[heights.index(min(heights))])
