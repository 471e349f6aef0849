"""A day of sun and moon as a document."""

from __future__ import annotations

from datetime import date

from pydantic import Field

from controller.words.documents import Document
from controller.words.times import Utc


class SkyMoment(Document):
    """Something that happens; altitude and azimuth are the moon's for moonrise and moonset, the sun's otherwise."""

    name: str = Field(description="of sun events as plans write it")
    utc: Utc
    local: str = Field(description="by the zone's clock, ISO 8601 with its offset")
    altitude_deg: float
    azimuth_deg: float = Field(description="from north through east")
    scene_ev: float = Field(description="expected under a clear sky, EV at ISO 100")


class SkySpan(Document):
    """A stretch of time."""

    from_utc: Utc
    to_utc: Utc
    length_s: float


class MoonPhase(Document):
    """A phase that comes."""

    name: str
    utc: Utc
    local: str


class SkyMoon(Document):
    """The moon in the middle of the night."""

    phase: str
    phase_deg: float
    illuminated: float = Field(description="share, 0…1")
    next_phase: MoonPhase


class SkyNow(Document):
    """Where sun and moon stand at a moment: centres, without refraction."""

    utc: Utc
    sun_altitude_deg: float
    sun_azimuth_deg: float
    moon_altitude_deg: float
    moon_azimuth_deg: float


class WordTime(Document):
    """The moment that a plan's word names on this day; or why it names none."""

    word: str
    utc: Utc | None = None
    local: str | None = None
    why: str | None = Field(None, description="why there is no such moment, and what to write, in one line")


class SkyDay(Document):
    """The sun's day around the noon of a date: an evening's events stand together, even past midnight."""

    latitude: float
    longitude: float
    date: date
    timezone: str
    from_utc: Utc
    to_utc: Utc
    kind: str = Field(description="sun rises or sets, polar day, or polar night")
    brightest: str
    darkest: str
    sun_highest_deg: float
    sun_lowest_deg: float
    events: list[SkyMoment]
    day_length_s: float
    dark: list[SkySpan] = Field(description="the sun is below −18°, in the night that follows")
    dark_with_moon: list[SkySpan]
    moon: SkyMoon
    now: SkyNow
    words: list[WordTime] = Field(default_factory=list, description="those that were asked for")
