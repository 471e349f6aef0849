"""One day of sun and moon at a place: what happens when, how long it is light and dark, and when the moon is up.

A day here is the sun's: from one lower transit to the next around the noon of a date, so that an evening's events
belong together even where the clock passes midnight between them. Darkness is that of the night which follows.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import pairwise

import numpy as np

from controller.decide import horizon, moon, sky, sun
from controller.decide.moments import sun_events
from controller.decide.moon import MoonEvent, Phase

HALF_DAY_S = 43_200.0
RURAL_LX = 0.0008
_MONTH_S = 30 * 86_400.0
_SAMPLE_S = 600.0


class Light(StrEnum):
    """How bright the sun makes the sky, by its altitude."""

    DAYLIGHT = "daylight"
    CIVIL = "civil twilight"
    NAUTICAL = "nautical twilight"
    ASTRONOMICAL = "astronomical twilight"
    NIGHT = "night"


class Kind(StrEnum):
    """Whether the sun rises and sets."""

    ORDINARY = "sun rises or sets"
    POLAR_DAY = "polar day"
    POLAR_NIGHT = "polar night"


@dataclass(frozen=True, slots=True)
class Event:
    """A moment of the day: altitude and azimuth are the moon's for moonrise and moonset, the sun's otherwise."""

    name: str
    utc: float
    altitude_deg: float
    azimuth_deg: float
    scene_ev: float  # expected under a clear sky, EV at ISO 100


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time, POSIX seconds."""

    from_utc: float
    to_utc: float

    @property
    def length_s(self) -> float:
        return self.to_utc - self.from_utc


@dataclass(frozen=True, slots=True)
class Day:
    """What the sky does from `from_utc` to `to_utc`. Nothing raises where sun or moon do not rise: the spans tell."""

    from_utc: float
    to_utc: float
    highest_deg: float  # of the sun
    lowest_deg: float
    events: tuple[Event, ...]
    daylight: tuple[Span, ...]  # the sun is up
    dark: tuple[Span, ...]  # the sun is below −18°, from this noon to the next
    dark_with_moon: tuple[Span, ...]
    phase_deg: float  # at the end, in the middle of the night
    phase: Phase
    illuminated: float
    next_phase: MoonEvent

    @property
    def kind(self) -> Kind:
        """Polar day, polar night, or neither."""
        if self.lowest_deg >= sun.RISE_SET_DEG:
            return Kind.POLAR_DAY
        return Kind.POLAR_NIGHT if self.highest_deg < sun.RISE_SET_DEG else Kind.ORDINARY

    @property
    def brightest(self) -> Light:
        """The light at noon."""
        return light(self.highest_deg)

    @property
    def darkest(self) -> Light:
        """The light at midnight; anything but NIGHT says that there is no astronomical night."""
        return light(self.lowest_deg)


def light(sun_altitude_deg: float) -> Light:
    """Which light an altitude of the sun makes."""
    levels = zip((sun.RISE_SET_DEG, -6.0, -12.0, -18.0), Light, strict=False)
    return next((name for level, name in levels if sun_altitude_deg >= level), Light.NIGHT)


def day_of(latitude: float, longitude: float, timezone: str, date: date, floor_lx: float = RURAL_LX) -> Day:
    """The day whose noon falls on a date by a zone's clock. `floor_lx` is the light of the place in a moonless night.

    Raises BadInput: bad-place, bad-date.
    """
    horizon.check_place(latitude, longitude)
    noon = sun_events(latitude, longitude, timezone, date)["noon"]
    start, end = noon - HALF_DAY_S, noon + HALF_DAY_S
    happens = sun.events(latitude, longitude, start, end + HALF_DAY_S)
    height = sun.altitudes(latitude, longitude, np.arange(start, end + 1, _SAMPLE_S))
    first, at_noon = float(height[0]), sun.position(latitude, longitude, noon)[0]
    dark = _spans(happens, "astronomical_dusk", "astronomical_dawn", noon, end + HALF_DAY_S, at_noon < -18.0)
    risen = moon.moon_events(latitude, longitude, start, end + HALF_DAY_S)
    moon_up = _spans(risen, "moonrise", "moonset", start, end + HALF_DAY_S, moon.moon_is_up(latitude, longitude, start))

    def event(name: str, utc: float) -> Event:
        altitude, azimuth = sun.position(latitude, longitude, utc)
        scene_ev = sky.scene_ev(altitude, sky.night_lx(moon.moon(latitude, longitude, utc), floor_lx))
        if name.startswith("moon"):
            altitude, azimuth = moon.moon_position_deg(latitude, longitude, utc)
        return Event(name, utc, altitude, azimuth, scene_ev)

    both = sorted([(e.utc, e.name) for e in happens] + [(e.utc, e.name) for e in risen])
    phase_deg = moon.phase_deg(end)
    return Day(
        from_utc=start,
        to_utc=end,
        highest_deg=float(height.max()),
        lowest_deg=float(height.min()),
        events=tuple(event(name, utc) for utc, name in both if utc < end),
        daylight=_spans(happens, "sunrise", "sunset", start, end, first >= sun.RISE_SET_DEG),
        dark=dark,
        dark_with_moon=_both(dark, moon_up),
        phase_deg=phase_deg,
        phase=moon.phase_name(phase_deg),
        illuminated=moon.illuminated(end),
        next_phase=moon.phases(noon, noon + _MONTH_S)[0],
    )


def _spans(
    happens: list[sun.SunEvent] | list[MoonEvent], opens: str, closes: str, start: float, end: float, is_open: bool
) -> tuple[Span, ...]:
    """The stretches from each `opens` to the next `closes`, within start … end; `is_open` is how it stands at start."""
    turns = [e.utc for e in happens if e.name in (opens, closes) and start < e.utc < end]
    edges = [start, *turns, end]
    return tuple(Span(a, b) for k, (a, b) in enumerate(pairwise(edges)) if (k % 2 == 0) == is_open)


def _both(some: tuple[Span, ...], others: tuple[Span, ...]) -> tuple[Span, ...]:
    """Where two sets of spans overlap."""
    met = (Span(max(a.from_utc, b.from_utc), min(a.to_utc, b.to_utc)) for a in some for b in others)
    return tuple(span for span in met if span.length_s > 0)
