"""The second places of the rig's files: whether copies go there, and for how long there is room."""

from __future__ import annotations

from controller.decide.health.facts import Readings, Sign, says
from controller.decide.health.rig_disk import BACK, SOON_H
from controller.words.documents import PlaceNow
from controller.words.phrases import count, length, size

NAME = "second place"
PATIENCE_S = 3600.0
"""A line that is down for less mends itself (common practice, no source); what waits for a person is told at once."""

_REMEDY = "Put that right on the rig, then try the copies again: on the page, or by duskhand copies --again"


def second_places(now: Readings) -> list[Sign]:
    """Each place under its own name; copies wait meanwhile, and none is lost."""
    trouble = now.places_trouble
    told = "places.toml can be used" if trouble is None else f"Nothing is copied: {trouble}"
    document = Sign(NAME, says(trouble is not None, trouble is None), told, _REMEDY)
    return [document, *(sign for place in now.places for sign in (_reached(place), _room(place)))]


def _reached(place: PlaceNow) -> Sign:
    well = place.trouble is None
    waiting = count(place.waiting, "frame")
    what = f"Copies go to {place.name}" if well else f"{waiting} wait for {place.name}: {place.trouble}"
    raise_s = PATIENCE_S if place.by_itself else 0.0
    return Sign(f"{NAME} {place.name}", says(not well, well), what, place.remedy or "", raise_s=raise_s)


def _room(place: PlaceNow) -> Sign:
    free, hours = place.free_bytes, place.hours_left
    bad, good = hours is not None and hours < SOON_H, hours is not None and hours > SOON_H * BACK
    lasts = "" if hours is None else f", enough for {length(hours * 3600)} at this pace"
    what = f"{place.name} has {size(free or 0)} free{lasts}"
    return Sign(f"room on {place.name}", says(bad, good), what, f"Make room on {place.name}")
