"""Where on its way an exposure stands at a limit: of the plan, of the body, or of the interval."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from controller.decide import exposure as dials
from controller.decide.bracket import room_s
from controller.decide.exposure import ANY_BODY, Body, Quantity, Triple
from controller.decide.forecast import Point
from controller.decide.plan import FollowLight, Plan
from controller.decide.reach import Reach, reach_of
from controller.decide.step import Adjust, limits_in_force, shortest_interval_s
from controller.words.effect import Limit, LimitMet

_NEAR = 1e-3
_APART_S = 300.0  # what comes again within that is one stretch
_THIRD_EV = 0.34  # what rounding and hysteresis put between exposure and target

_DARK: dict[Quantity, Limit] = {
    "shutter": Limit.LONGEST_SHUTTER,
    "aperture": Limit.WIDEST_APERTURE,
    "iso": Limit.HIGHEST_ISO,
}
_BRIGHT: dict[Quantity, Limit] = {
    "shutter": Limit.SHORTEST_SHUTTER,
    "aperture": Limit.NARROWEST_APERTURE,
    "iso": Limit.LOWEST_ISO,
}


def limits_met(
    plan: Plan, adjust: Adjust, body: Body | None, points: Sequence[Point], end_utc: float | None
) -> list[LimitMet]:
    """The stretches of a forecast's points in which a limit is met, in order of time.

    `end_utc` is until when these points tell all; None where more is to come that is not looked at.
    """
    inside = [point for point in points if end_utc is None or point.utc <= end_utc]
    if not inside:
        return []
    looking, found = _Looking(plan, adjust, body), dict[Limit, list[list[Point]]]()
    for point in inside:
        for limit in looking.met(point):
            stretches = found.setdefault(limit, [])
            if not stretches or point.utc - stretches[-1][-1].utc > max(_APART_S, _step_s(inside)):
                stretches.append([])
            stretches[-1].append(point)
    told = [_told(limit, points, inside[-1], end_utc) for limit, each in found.items() for points in each]
    return sorted(told, key=lambda met: met.from_utc)


class _Looking:
    """What a plan's exposure can come up against, on one body."""

    def __init__(self, plan: Plan, adjust: Adjust, body: Body | None) -> None:
        self._plan, self._body, self._limits = plan, body or ANY_BODY, limits_in_force(plan, adjust)
        self._shortest_s = shortest_interval_s(plan, self._limits, self._body)
        reach = self._reach = reach_of(plan, adjust, body)
        self._free = [name for name in reach.order if _light(reach, name) > _NEAR]  # in order of giving way

    def met(self, point: Point) -> Iterator[Limit]:
        used, reach = point.exposure, self._reach
        for name in self._free:
            if _as_far(used, reach.darkest, name):
                yield _DARK[name]
        if self._free and all(_as_far(used, reach.brightest, name) for name in self._free):
            yield _BRIGHT[self._free[0]]
        if self._fills(point):
            yield Limit.GAP

    def _fills(self, point: Point) -> bool:
        """Whether exposure and least gap fill the interval, and more is wanted."""
        light, used, pace = self._plan.light, point.exposure, self._plan.pace
        if not isinstance(light, FollowLight):
            return point.interval_s <= self._shortest_s + _NEAR
        room = room_s(point.interval_s, pace.min_gap_s, light.offsets)
        if not self._reach.outgrown(used, point.together_s, room):
            return False
        free = dials.allocate(point.target_ev, self._limits, light.giving_way, self._body, math.inf)
        return free.shutter_s > used.shutter_s * (1 + _NEAR)


def _light(reach: Reach, name: Quantity) -> float:
    """How far apart, as a factor, the two ends of a quantity are."""
    dark, bright = _of(reach.darkest, name), _of(reach.brightest, name)
    return abs(math.log(dark / bright))


def _as_far(used: Triple, end: Triple, name: Quantity) -> bool:
    return math.isclose(_of(used, name), _of(end, name), rel_tol=_NEAR)


def _of(triple: Triple, name: Quantity) -> float:
    return {"shutter": triple.shutter_s, "aperture": triple.aperture, "iso": triple.iso}[name]


def _step_s(points: Sequence[Point]) -> float:
    return 0.0 if len(points) < 2 else 1.5 * (points[1].utc - points[0].utc)


def _told(limit: Limit, points: Sequence[Point], very_last: Point, end_utc: float | None) -> LimitMet:
    first, last = points[0], points[-1]
    lasts = last is very_last
    worst = max((point.exposure.ev - point.target_ev for point in points), key=abs)
    return LimitMet(
        limit=limit,
        from_utc=first.utc,
        from_sun_altitude_deg=round(first.sun_altitude_deg, 2),
        until_utc=end_utc if lasts else last.utc,
        until_sun_altitude_deg=None if lasts and end_utc is None else round(last.sun_altitude_deg, 2),
        darker_ev=round(worst, 2) if abs(worst) > _THIRD_EV else 0.0,
    )
