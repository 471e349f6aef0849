"""Sun, moon and sky model around one moment at a plan's site."""

from __future__ import annotations

from functools import lru_cache

from controller.decide import horizon, sky
from controller.decide.moon import moon_from
from controller.decide.plan import Site
from controller.decide.sun import altitude, direction, position_from

_NEAR_S = 90.0  # so far from a slot the sun's altitude runs straight, within 0.001°


class Place:
    """Sun, moon and sky model around one moment, so that a slot asks for the sun's position only twice."""

    __slots__ = (
        "_known_ev",
        "_latitude",
        "_longitude",
        "_night_lx",
        "_slope",
        "altitude_deg",
        "azimuth_deg",
        "moon",
        "utc",
    )

    def __init__(self, latitude: float, longitude: float, floor_lx: float, utc: float) -> None:
        self.utc = utc
        self._latitude, self._longitude = latitude, longitude
        sight, towards_sun = horizon.sight(latitude, longitude, utc), direction(utc)
        self.altitude_deg, self.azimuth_deg = position_from(sight, towards_sun)
        self._slope = (altitude(latitude, longitude, utc + _NEAR_S) - self.altitude_deg) / _NEAR_S
        self.moon = moon_from(sight, towards_sun, utc)
        self._night_lx = sky.night_lx(self.moon, floor_lx)
        self._known_ev: dict[float, float] = {}

    def sun_altitude(self, utc: float) -> float:
        after_s = utc - self.utc
        if abs(after_s) <= _NEAR_S:
            return self.altitude_deg + self._slope * after_s
        return altitude(self._latitude, self._longitude, utc)

    def model_ev(self, utc: float) -> float:
        known = self._known_ev.get(utc)
        if known is None:
            known = self._known_ev[utc] = sky.scene_ev(self.sun_altitude(utc), self._night_lx)
        return known


def place_at(site: Site, utc: float) -> Place:
    """The place around a moment, to the microsecond; a slot that is asked for again finds it worked out."""
    return _place(site.latitude, site.longitude, site.floor_lx, round(utc, 6))


_place = lru_cache(maxsize=16)(Place)
