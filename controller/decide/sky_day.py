"""A day's sky at a place as the document that the command and REST give; and the moments of a plan's words on it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from pydantic import ValidationError

from controller.decide import moon, sun
from controller.decide.almanac import Day, Span, day_of
from controller.decide.anchors import parse_anchor
from controller.decide.horizon import check_place
from controller.decide.moments import moment
from controller.decide.plan.tables import Site
from controller.decide.plan_errors import shown
from controller.decide.zone_hints import zone_remedy
from controller.words.errors import BadInput
from controller.words.sky import MoonPhase, SkyDay, SkyMoment, SkyMoon, SkyNow, SkySpan, WordTime

FIRST_YEAR, LAST_YEAR = 1900, 2100  # of the series of sun and moon


def place_of(latitude: float, longitude: float, timezone: str) -> Site:
    """A place with its clock. Raises BadInput: bad-place, bad-timezone; `where` is the argument's name."""
    check_place(latitude, longitude)
    try:
        return Site(latitude=latitude, longitude=longitude, timezone=timezone)
    except ValidationError:  # the zone is all that is left
        what = f"{shown(timezone)} is no time zone"
        raise BadInput("bad-timezone", what, "timezone", zone_remedy(timezone, latitude, longitude)) from None


def sky_day(site: Site, on: date, now_utc: float, day: Day | None = None, words: Iterable[str] = ()) -> SkyDay:
    """The sky of a local day, as it stands now, and when each of the words is.

    `day` is `day_of` the same site and date, where the caller has it. Raises BadInput: bad-date.
    """
    day = day or day_of(site.latitude, site.longitude, site.timezone, on, site.floor_lx)
    coming = day.next_phase
    return SkyDay(
        latitude=site.latitude,
        longitude=site.longitude,
        date=on,
        timezone=site.timezone,
        from_utc=day.from_utc,
        to_utc=day.to_utc,
        kind=day.kind,
        brightest=day.brightest,
        darkest=day.darkest,
        sun_highest_deg=round(day.highest_deg, 2),
        sun_lowest_deg=round(day.lowest_deg, 2),
        events=[
            SkyMoment(
                name=event.name,
                utc=event.utc,
                local=_local(site, event.utc),
                altitude_deg=round(event.altitude_deg, 2),
                azimuth_deg=round(event.azimuth_deg, 1),
                scene_ev=round(event.scene_ev, 2),
            )
            for event in day.events
        ],
        day_length_s=round(sum(span.length_s for span in day.daylight), 1),
        dark=[_span(span) for span in day.dark],
        dark_with_moon=[_span(span) for span in day.dark_with_moon],
        moon=SkyMoon(
            phase=day.phase,
            phase_deg=round(day.phase_deg, 1),
            illuminated=round(day.illuminated, 3),
            next_phase=MoonPhase(name=coming.name, utc=coming.utc, local=_local(site, coming.utc)),
        ),
        now=_now(site, now_utc),
        words=[word_time(site, on, now_utc, word) for word in words],
    )


def word_time(site: Site, on: date, now_utc: float, word: str) -> WordTime:
    """When a plan's word, such as `sunset-45min` or `18:20`, is on a local day; `now` is the present moment."""
    try:
        utc = moment(site, parse_anchor(word), on, now_utc, "start")
    except ValueError as error:
        return WordTime(word=word, why=str(error))
    except BadInput as error:
        return WordTime(word=word, why=error.what)
    return WordTime(word=word, utc=utc, local=_local(site, utc))


def _now(site: Site, utc: float) -> SkyNow:
    altitude, azimuth = sun.position(site.latitude, site.longitude, utc)
    moon_altitude, moon_azimuth = moon.moon_position_deg(site.latitude, site.longitude, utc)
    return SkyNow(
        utc=utc,
        sun_altitude_deg=round(altitude, 3),
        sun_azimuth_deg=round(azimuth, 3),
        moon_altitude_deg=round(moon_altitude, 2),
        moon_azimuth_deg=round(moon_azimuth, 2),
    )


def _local(site: Site, utc: float) -> str:
    return datetime.fromtimestamp(round(utc), site.zone).isoformat(timespec="seconds")


def _span(span: Span) -> SkySpan:
    return SkySpan(from_utc=span.from_utc, to_utc=span.to_utc, length_s=round(span.length_s, 1))
