"""Where exposure and interval are heading: what is expected of them in half an hour."""

from __future__ import annotations

import math
from dataclasses import dataclass

from controller.decide import exposure as dials
from controller.decide import follow
from controller.decide.bracket import room_s
from controller.decide.exposure import ANY_BODY, Body, Triple
from controller.decide.forecast import Point, at
from controller.decide.plan import FollowLight, Plan
from controller.decide.schedule import Window
from controller.decide.step import Adjust, Moment, Progress, limits_in_force

AHEAD_S = 1800.0


@dataclass(frozen=True, slots=True)
class Towards:
    """The interval and the exposure expected at a moment, POSIX seconds; of a bracket what it will be around."""

    utc: float
    interval_s: float
    exposure: Triple


def heading(
    plan: Plan,
    adjust: Adjust,
    progress: Progress,
    window: Window,
    body: Body | None,
    now: Moment,
    end_utc: float | None,
) -> Towards | None:
    """What is expected in AHEAD_S, or at the window's end where that comes first; None before the first slot."""
    utc = min(now.utc + AHEAD_S, math.inf if end_utc is None else end_utc)
    if progress.interval_s is None or utc <= now.utc:
        return None
    point = at(plan, adjust, progress, window, body, now, utc)
    return Towards(utc, point.interval_s, _exposure(plan, adjust, progress, body or ANY_BODY, point))


def _exposure(plan: Plan, adjust: Adjust, progress: Progress, body: Body, point: Point) -> Triple:
    """As the slot then would choose: the exposure in force stays where it is near enough to the one that is wanted."""
    light, held = plan.light, progress.exposure
    if not isinstance(light, FollowLight) or held is None:
        return point.exposure
    limits, room = limits_in_force(plan, adjust), room_s(point.interval_s, plan.pace.min_gap_s, light.offsets)
    target_ev = point.target_ev + progress.light.highlights_ev
    aim_ev = follow.settle(held.ev, target_ev, 0.0, progress.light, progress.heading)
    return dials.allocate(aim_ev, limits, light.giving_way, body, room)
