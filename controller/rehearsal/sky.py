"""The scene before the model camera: the controller's own sky model, under weather that the light rule is not told."""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from controller.decide.follow import along
from controller.decide.place import Place, place_at
from controller.decide.plan import Plan
from controller.rehearsal.weather import Weather
from controller.words.documents import Frame

_NEAR_S = 45.0  # as long as sun and moon go straight enough from one moment
_STEP_DEG = 1.0

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class View:
    """What a camera's view has above the sky model by sun altitude in degrees, EV: mornings and evenings apart.

    A view of the sky alone has about 2.7 EV; how much it is, and how it goes, is known from an earlier shoot at the
    place (`view_of`), or from a test frame: `flat`.
    """

    rising: Points
    setting: Points

    def ev(self, place: Place) -> float:
        points = self.rising if place.azimuth_deg < 180.0 else self.setting
        return along(points, place.altitude_deg)


def flat(offset_ev: float) -> View:
    """The same at every sun altitude."""
    return View(((0.0, offset_ev),), ((0.0, offset_ev),))


def view_of(plan: Plan, frames: Iterable[Frame]) -> View:
    """From the log of an earlier shoot of the same view: medians for each degree of sun altitude.

    Where only evenings or only mornings were shot, they stand for both; without any metered frame it is `flat(0.0)`.
    """
    seen: dict[bool, dict[int, list[float]]] = {True: defaultdict(list), False: defaultdict(list)}
    for frame in frames:
        if frame.scene_ev is not None:
            mid_utc = frame.due_utc + (frame.shutter_s or 0.0) / 2
            place = place_at(plan.site, mid_utc)
            over_ev = frame.scene_ev - place.model_ev(mid_utc)
            seen[place.azimuth_deg < 180.0][round(place.altitude_deg / _STEP_DEG)].append(over_ev)
    rising, setting = (
        tuple((step * _STEP_DEG, statistics.median(found)) for step, found in sorted(seen[half].items()))
        for half in (True, False)
    )
    level = flat(0.0).setting
    return View(rising or setting or level, setting or rising or level)


class ModelScene:
    """Scene EV at a plan's site."""

    def __init__(self, plan: Plan, weather: Weather, view: View) -> None:
        self._plan, self._weather, self._view = plan, weather, view
        self._place: Place | None = None
        self._view_ev = 0.0

    def ev(self, utc: float) -> float:
        """EV at ISO 100 that renders the scene mid grey at a moment."""
        if self._place is None or not abs(utc - self._place.utc) <= _NEAR_S:
            self._place = place_at(self._plan.site, utc)
            self._view_ev = self._view.ev(self._place)
        return self._place.model_ev(utc) + math.log2(self._weather.transmission(utc)) + self._view_ev
