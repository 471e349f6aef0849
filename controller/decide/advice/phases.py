"""A window by its light: what each phase brings, and the plan at sun events."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import timedelta
from itertools import pairwise

from controller.decide.advice.ahead import Ahead, at_site, local
from controller.decide.almanac import Light
from controller.decide.moments import sun_events
from controller.decide.plan import Plan
from controller.decide.sun import RISE_SET_DEG, SUN_EVENTS, position
from controller.words.advice import ClockChange, LightPhase, Mark
from controller.words.documents import Exposure
from controller.words.stops import exposure_label

GOLDEN = "golden light"
GOLDEN_DEG = 6.0
"""The sun is up and no higher than this: warm light and long shadows. Common practice, no source."""

_LEAST_S = 60.0  # a window that starts at a sun event does so on one side of it or the other

_PHASES = (
    (GOLDEN_DEG, Light.DAYLIGHT.value),
    (RISE_SET_DEG, GOLDEN),
    (-6.0, Light.CIVIL.value),
    (-12.0, Light.NAUTICAL.value),
    (-18.0, Light.ASTRONOMICAL.value),
    (-90.1, Light.NIGHT.value),
)


def light_of(sun_altitude_deg: float) -> str:
    """The phase of the light at an altitude of the sun."""
    return next(name for level, name in _PHASES if sun_altitude_deg >= level)


def phases(plan: Plan, ahead: Ahead) -> list[LightPhase]:
    """The stretches of one light, in order of time."""
    inside = [utc for utc in _turns(ahead) if ahead.begin_utc + _LEAST_S < utc < ahead.told_utc - _LEAST_S]
    edges = [ahead.begin_utc, *inside, ahead.told_utc]
    return [_phase(plan, ahead, a, b) for a, b in pairwise(edges) if b > a]


def _turns(ahead: Ahead) -> Iterator[float]:
    """When the sun passes an altitude that ends a phase."""
    for before, after in pairwise(ahead.points):
        passed = [
            level
            for level, _ in _PHASES
            if (before.sun_altitude_deg >= level) != (after.sun_altitude_deg >= level) and after.utc <= ahead.end_utc
        ]
        sinks = after.sun_altitude_deg < before.sun_altitude_deg
        for level in sorted(passed, reverse=sinks):
            share = (level - before.sun_altitude_deg) / (after.sun_altitude_deg - before.sun_altitude_deg)
            yield before.utc + share * (after.utc - before.utc)


def _phase(plan: Plan, ahead: Ahead, from_utc: float, to_utc: float) -> LightPhase:
    before, first_s, _ = ahead.at(from_utc)
    after, last_s, _ = ahead.at(to_utc)
    fps, middle = plan.clip.fps, (from_utc + to_utc) / 2
    frames = _released(ahead, after) - _released(ahead, before)
    return LightPhase(
        light=light_of(position(plan.site.latitude, plan.site.longitude, middle)[0]),
        from_utc=from_utc,
        from_local=local(plan, from_utc),
        to_utc=to_utc,
        to_local=local(plan, to_utc),
        frames=frames,
        clip_s=round(frames / plan.releases_per_clip_s, 2),
        interval_s=(round(first_s, 3), round(last_s, 3)),
        speed_up=(round(first_s * fps, 1), round(last_s * fps, 1)),
    )


def _released(ahead: Ahead, frames: float) -> int:
    """Whole frames: the first at the window's start, and all of them by its end, so that parts add up to the whole."""
    whole = math.ceil(frames - 1e-6)
    most = ahead.coming.frames_left
    return whole if most is None else min(whole, most)


def marks(plan: Plan, ahead: Ahead) -> list[Mark]:
    """Start, end, and the sun events between them."""
    site = plan.site
    moments = {"start": ahead.begin_utc, "end": ahead.end_utc}
    named = [(utc, name) for name, utc in moments.items()]
    first, last = (at_site(plan, utc).date() for utc in (ahead.begin_utc, ahead.told_utc))
    for n in range(-1, (last - first).days + 2):
        happens = sun_events(site.latitude, site.longitude, site.timezone, first + timedelta(days=n))
        named += [(happens[e], e) for e in SUN_EVENTS if e in happens and ahead.begin_utc < happens[e] < ahead.told_utc]
    return [_mark(plan, ahead, name, utc) for utc, name in sorted(named)]


def _mark(plan: Plan, ahead: Ahead, name: str, utc: float) -> Mark:
    frames, interval_s, point = ahead.at(utc)
    e = point.exposure
    return Mark(
        name=name,
        utc=utc,
        local=local(plan, utc),
        sun_altitude_deg=round(position(plan.site.latitude, plan.site.longitude, utc)[0], 2),
        interval_s=round(interval_s, 3),
        speed_up=round(interval_s * plan.clip.fps, 1),
        exposure=Exposure(
            shutter_s=e.shutter_s,
            aperture=e.aperture,
            iso=e.iso,
            ev=round(e.ev, 3),
            label=exposure_label(e.shutter_s, e.aperture, e.iso),
        ),
        frame=_released(ahead, frames),
    )


def clock_change(plan: Plan, from_utc: float, to_utc: float) -> ClockChange | None:
    """The change of the site's clock between two moments, to the second; None where it keeps its offset."""

    def offset_s(utc: float) -> float:
        offset = at_site(plan, utc).utcoffset()
        return 0.0 if offset is None else offset.total_seconds()

    low, high = from_utc, to_utc
    if offset_s(low) == offset_s(high):
        return None
    first = offset_s(low)
    while high - low > 0.5:
        middle = (low + high) / 2
        low, high = (middle, high) if offset_s(middle) == first else (low, middle)
    at_utc = float(round(high))
    return ClockChange(
        utc=at_utc, before=local(plan, at_utc - 1), after=local(plan, at_utc), by_s=offset_s(at_utc) - first
    )
