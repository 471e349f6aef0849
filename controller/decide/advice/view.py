"""What the camera sees: its field of view, and when sun and moon stand in the picture.

The camera is held level, its picture wide, and the lens is rectilinear: each edge of the picture is a plane through the
lens, and how far a body stands inside is its distance from the nearest of the four planes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from controller.decide.horizon import Floats
from controller.decide.moon import moon_position_deg
from controller.decide.sun import position

BodyName = Literal["sun", "moon"]

SUN_RADIUS_DEG = 0.2666
MOON_RADIUS_DEG = 0.2590
"""Mean radii of the discs: 959.6″ and 932.6″ (Explanatory Supplement to the Astronomical Almanac)."""

_STEP_S = 60.0
_HALVINGS = 8  # to a quarter of a second
_REFRACTED_FROM_DEG = -1.0
_SAMPLES = 65


@dataclass(frozen=True, slots=True)
class Field:
    """Angles of view of a picture, degrees."""

    horizontal_deg: float
    vertical_deg: float
    diagonal_deg: float


@dataclass(frozen=True, slots=True)
class Stay:
    """A body's disc, or a part of it, above the horizon and inside the picture: from when to when, POSIX seconds."""

    body: BodyName
    enters_utc: float
    leaves_utc: float


class Frame:
    """Where a picture's edges lie in the sky."""

    def __init__(self, azimuth_deg: float, altitude_deg: float, field: Field) -> None:
        """The picture's middle, and its field of view."""
        self._forward = _direction(altitude_deg, azimuth_deg)
        turn = math.radians(azimuth_deg)
        self._right = np.array([math.cos(turn), -math.sin(turn), 0.0])
        self._up = np.cross(self._right, self._forward)
        across, down = math.radians(field.horizontal_deg) / 2, math.radians(field.vertical_deg) / 2
        self._tangents = math.tan(across), math.tan(down)
        self._normals = np.array(
            [
                self._forward * math.sin(half) + sign * side * math.cos(half)
                for half, side in ((across, self._right), (down, self._up))
                for sign in (1.0, -1.0)
            ]
        )

    def inside_deg(self, altitude_deg: float, azimuth_deg: float) -> float:
        """How far a direction lies inside the nearest edge, degrees; negative outside."""
        sines = self._normals @ _direction(altitude_deg, azimuth_deg)
        return math.degrees(math.asin(max(-1.0, min(1.0, float(sines.min())))))

    def least_declination_deg(self, latitude_deg: float) -> float:
        """The declination nearest to the equator of what the picture shows above the horizon, |δ| in degrees.

        Stars trail longest there. Where the picture shows no sky at all, 0.
        """
        x, y = np.meshgrid(*(np.linspace(-t, t, _SAMPLES) for t in self._tangents))
        rays = self._forward + x[..., None] * self._right + y[..., None] * self._up
        rays = rays / np.linalg.norm(rays, axis=-1, keepdims=True)
        phi = math.radians(latitude_deg)
        declinations = np.arcsin(np.clip(rays @ np.array([0.0, math.cos(phi), math.sin(phi)]), -1.0, 1.0))
        seen = declinations[rays[..., 2] >= 0]
        if seen.size == 0 or (seen.min() < 0 < seen.max()):
            return 0.0
        return math.degrees(float(np.abs(seen).min()))


def field_of_view(sensor_mm: tuple[float, float], focal_mm: float) -> Field:
    """Angles of view of a rectilinear lens focused far away: 2·atan(size / 2f)."""
    width, height = sensor_mm
    angles = (2 * math.degrees(math.atan(size / (2 * focal_mm))) for size in (width, height, math.hypot(width, height)))
    return Field(*angles)


def refraction_deg(altitude_deg: float) -> float:
    """How much the air lifts a body of this airless altitude, degrees, at 10 °C and 1010 hPa.

    Sæmundsson, Sky and Telescope 72 (1986) 70, as Meeus gives it (Astronomical Algorithms, 16.4). Below −1° nothing is
    seen, and the lift there is kept.
    """
    altitude_deg = max(altitude_deg, _REFRACTED_FROM_DEG)
    return max(0.0, 1.02 / math.tan(math.radians(altitude_deg + 10.3 / (altitude_deg + 5.11))) / 60)


def stays(
    frame: Frame, body: BodyName, latitude: float, longitude: float, from_utc: float, to_utc: float
) -> list[Stay]:
    """When any of a body's disc stands in the picture above a level horizon, between two moments; to the second.

    A crossing of a corner that takes less than a minute may be left out.
    """
    radius = SUN_RADIUS_DEG if body == "sun" else MOON_RADIUS_DEG
    place = position if body == "sun" else moon_position_deg

    def inside(utc: float) -> float:
        altitude, azimuth = place(latitude, longitude, utc)
        altitude += refraction_deg(altitude)
        return min(frame.inside_deg(altitude, azimuth), altitude) + radius

    found: list[Stay] = []
    count = max(1, math.ceil((to_utc - from_utc) / _STEP_S))
    moments: Floats = np.linspace(from_utc, to_utc, count + 1)
    entered = from_utc if inside(from_utc) > 0 else None
    for before, after in zip(moments[:-1].tolist(), moments[1:].tolist(), strict=True):
        is_in = inside(after) > 0
        if is_in and entered is None:
            entered = _crossing(inside, before, after)
        elif not is_in and entered is not None:
            found.append(Stay(body, entered, _crossing(inside, before, after)))
            entered = None
    if entered is not None:
        found.append(Stay(body, entered, to_utc))
    return found


def _crossing(inside: Callable[[float], float], before: float, after: float) -> float:
    first = inside(before) > 0
    for _ in range(_HALVINGS):
        middle = (before + after) / 2
        before, after = (middle, after) if (inside(middle) > 0) == first else (before, middle)
    return (before + after) / 2


def _direction(altitude_deg: float, azimuth_deg: float) -> Floats:
    """East, north and up of a unit vector."""
    altitude, azimuth = math.radians(altitude_deg), math.radians(azimuth_deg)
    level = math.cos(altitude)
    return np.array([level * math.sin(azimuth), level * math.cos(azimuth), math.sin(altitude)])
