"""Where a plan's times may not be the ones that were meant."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from controller.decide.advice.ahead import Ahead, at_site
from controller.decide.anchors import Local, parse_anchor
from controller.decide.moments import sun_events
from controller.decide.plan import Plan
from controller.decide.schedule import clock_skips
from controller.decide.zone_hints import nearest
from controller.words.advice import ClockChange, Costs, Warned

_LONG_NIGHT_S = 12 * 3600.0  # a time of day that comes before the start's is taken on the next day: often a slip
_ZONE_SLACK_H = 1.75  # most zones keep so near to the sun's mean time, summer time left out; the west of China does not
_NEAR_H = 0.5
_POLAR_DEG = 65.0  # beyond, zones are kept for other reasons than the sun
_TROPIC_DEG = 23.5


def of_site(plan: Plan, utc: float) -> Iterator[Warned]:
    """A place and a zone that do not go together; a zone that is named for a city near by is not doubted."""
    site, there = plan.site, at_site(plan, utc)
    if abs(site.latitude) > _POLAR_DEG:
        return
    january, july = (_offset_h(plan, there.year, month) for month in (1, 7))
    apart_h = min(january, july) - site.longitude / 15
    if "timezone" not in site.model_fields_set and abs(apart_h) > _NEAR_H:
        anchors = [text for part in plan.when.parts() for text in (part.start, part.stop) if text is not None]
        by_clock = next((text for text in anchors if isinstance(parse_anchor(text), Local)), None)
        what = f"no timezone: {by_clock} means UTC" if by_clock else "no timezone: times are in UTC"
        remedy = 'Add timezone to [site], such as "Europe/Stockholm"'
        yield Warned(costs=Costs.FRAMES if by_clock else Costs.COMFORT, what=what, remedy=remedy)
        return
    if site.timezone in nearest(site.latitude, site.longitude):
        return
    place = f"{_degrees(site.latitude, 'NS')} {_degrees(site.longitude, 'EW')}"
    apart_h = (apart_h + 12) % 24 - 12
    if abs(apart_h) > _ZONE_SLACK_H:
        noon_utc = sun_events(site.latitude, site.longitude, site.timezone, there.date()).get("noon", utc)
        what = f"at {place} the sun is highest at {at_site(plan, noon_utc):%H:%M} by {site.timezone}"
        remedy = "Are latitude and longitude swapped, a sign wrong, or the zone another?"
        yield Warned(costs=Costs.FRAMES, what=what, remedy=remedy)
    elif abs(site.latitude) > _TROPIC_DEG and january != july and (july > january) != (site.latitude > 0):
        season, other = ("July", "January") if july > january else ("January", "July")
        what = f"the clocks of {site.timezone} are put forward for {season}, and at {place} summer is in {other}"
        remedy = "Is the sign of latitude wrong, north being positive, or the zone another?"
        yield Warned(costs=Costs.FRAMES, what=what, remedy=remedy)


def _offset_h(plan: Plan, year: int, month: int) -> float:
    offset = datetime(year, month, 1, 12, tzinfo=plan.site.zone).utcoffset()
    return 0.0 if offset is None else offset.total_seconds() / 3600


def _degrees(value: float, signs: str) -> str:
    return f"{abs(value):.4g}° {signs[value < 0]}"


def of_times(plan: Plan, ahead: Ahead, change: ClockChange | None, now_utc: float) -> Iterator[Warned]:
    """What the plan's times of day come to, where that may surprise."""
    window = ahead.window
    when = plan.when.parts()[window.part]
    start, stop = parse_anchor(when.start), None if when.stop is None else parse_anchor(when.stop)
    both = isinstance(start, Local) and isinstance(stop, Local) and start.day is None and stop.day is None
    if both and window.stop_utc is not None and window.stop_utc - window.start_utc > _LONG_NIGHT_S:
        hours = (window.stop_utc - window.start_utc) / 3600
        what = f"the window from {when.start} to {when.stop} runs through the night until the next day, {hours:.3g} h"
        yield Warned(costs=Costs.NIGHT, what=what, remedy="If that is not meant, make stop later than start")
    for key, text, utc in clock_skips(plan, window):
        there = at_site(plan, utc)
        what = f"{key} = {text} does not exist on {there:%Y-%m-%d}, as the clock is put forward: {there:%H:%M} is taken"
        remedy = f"Choose another {key}, if that is too late"
        yield Warned(costs=Costs.COMFORT, what=what, remedy=remedy, utc=utc)
    if ahead.begin_utc > window.start_utc:
        since, from_then = (at_site(plan, utc) for utc in (window.start_utc, ahead.begin_utc))
        what = (
            f"the window is open since {since:%a %d %b %H:%M}; what is left of it from {from_then:%a %H:%M} is counted"
        )
        yield Warned(costs=Costs.COMFORT, what=what, remedy="For a whole one choose a later day")
    if ahead.coming.end_utc is not None and ahead.coming.end_utc < now_utc:
        what = f"the window of {at_site(plan, ahead.begin_utc):%a %d %b %Y} lies in the past"
        yield Warned(costs=Costs.COMFORT, what=what, remedy="Choose a day that is still to come")
    if change is not None:
        hours, there = abs(change.by_s) / 3600, datetime.fromisoformat(change.before) + timedelta(seconds=1)
        way = "forward" if change.by_s > 0 else "back"
        what = (
            f"the clocks are put {way} by {hours:g} h within the window, on {there:%a %d %b} at {there:%H:%M}, so that "
            f"it lasts {hours:g} h {'less' if change.by_s > 0 else 'longer'} than its times by the clock say"
        )
        remedy = "Nothing to do: the cadence goes on"
        yield Warned(costs=Costs.COMFORT, what=what, remedy=remedy, utc=change.utc)
