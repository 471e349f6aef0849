"""Where exposure, limits and interval get in each other's way, at a minute that is named."""

from __future__ import annotations

import math
from collections.abc import Iterator

from controller.decide import follow
from controller.decide.advice.ahead import Ahead
from controller.decide.advice.stretches import span
from controller.decide.bracket import room_s
from controller.decide.exposure import Body
from controller.decide.forecast import Point
from controller.decide.plan import FollowLight, Plan
from controller.decide.reach import reach_of
from controller.decide.step import Adjust
from controller.words.advice import Costs, Warned
from controller.words.phrases import at_least
from controller.words.stops import exposure_label, shutter_time

_NOTICEABLE_EV = 0.5
_TOO_DARK_EV = 2.0  # lifted afterwards, noise shows (common practice, no source)
_TOO_BRIGHT_EV = 1.0  # what is clipped does not come back (common practice, no source)
_THIRD_EV = 0.34  # what is held back by less needs no warning

_WANTED = FollowLight.model_validate({"kind": "follow", "aperture": 1.0})  # for its curve of brightness alone
_STARS_DEG = -12.0
_SKY_EV = math.log2(1 / 0.18)  # a sky full of stars against grey ground that it lights


def of_exposure(plan: Plan, ahead: Ahead, body: Body | None) -> Iterator[Warned]:
    """Limits that bind, and intervals that hold the shutter back."""
    if not isinstance(plan.light, FollowLight):
        yield from _of_one_for_all(plan, ahead)
        return
    if plan.files.fetch == "none":
        what = "without previews the light is not metered, and the exposure follows the sky model alone"
        yield Warned(costs=Costs.NIGHT, what=what, remedy='Use fetch = "preview"')

    def lacking(point: Point) -> float:
        return point.exposure.ev - point.target_ev

    if (found := span(plan, ahead, lambda p: lacking(p) > _NOTICEABLE_EV)) is not None:
        points, when = found
        worst = max(map(lacking, points))
        what = (
            f"{when} pictures come out darker than wanted, by up to {worst:.1f} EV: {_label(points[0])} is the most "
            "that limits and interval allow"
        )
        costs = Costs.NIGHT if worst >= _TOO_DARK_EV else Costs.QUALITY
        remedy = "Allow a higher ISO or longer exposures, or use longer intervals"
        yield Warned(costs=costs, what=what, remedy=remedy, utc=points[0].utc, worst_ev=round(worst, 2))
    if (found := span(plan, ahead, lambda p: -lacking(p) > _NOTICEABLE_EV)) is not None:
        points, when = found
        worst = max(-lacking(p) for p in points)
        what = (
            f"{when} pictures come out too bright, by up to {worst:.1f} EV: {_label(points[0])} is the least that the "
            "limits allow"
        )
        costs = Costs.NIGHT if worst >= _TOO_BRIGHT_EV else Costs.QUALITY
        remedy = "Allow shorter exposures or narrower apertures, or use a grey filter"
        yield Warned(costs=costs, what=what, remedy=remedy, utc=points[0].utc, worst_ev=round(worst, 2))
    yield from _held_short(plan, ahead, body)


def _of_one_for_all(plan: Plan, ahead: Ahead) -> Iterator[Warned]:
    """A fixed exposure against the light, as one that follows would be wanted; a bracket by its ends."""
    low_ev, high_ev = min(plan.light.offsets), max(plan.light.offsets)

    def over(p: Point) -> float:
        return follow.target_ev(_WANTED, p.scene_ev, p.sun_altitude_deg) - p.exposure.ev

    def bright(p: Point) -> float:
        return over(p) + low_ev

    def dark(p: Point) -> float:
        return -over(p) - high_ev - (_SKY_EV if p.sun_altitude_deg <= _STARS_DEG else 0.0)

    for off, way, much_ev, other in (
        (bright, "bright", _TOO_BRIGHT_EV, "shorten it"),
        (dark, "dark", _TOO_DARK_EV, "lengthen it"),
    ):
        found = span(plan, ahead, lambda p, off=off: off(p) > _NOTICEABLE_EV, open_end=False)  # type: ignore[misc]
        if found is None:
            continue
        points, when = found
        worst = max(map(off, points))
        inside = [p for p in ahead.points if p.utc <= ahead.end_utc]
        first, last = points[0] is inside[0], points[-1] is inside[-1]
        move = "Start later, " if first and not last else "Stop earlier, " if last and not first else ""
        remedy = f"{move}{other if move else other.capitalize()}, or follow the light"
        what = f"{when} one exposure for all is too {way}, by up to {worst:.1f} EV"
        costs = Costs.NIGHT if worst >= much_ev else Costs.QUALITY
        yield Warned(costs=costs, what=what, remedy=remedy, utc=points[0].utc, worst_ev=round(worst, 2))


def _held_short(plan: Plan, ahead: Ahead, body: Body | None) -> Iterator[Warned]:
    """Where the exposure outgrows the interval, and ISO or aperture has to give way before its turn."""
    reach, gap_s, offsets = reach_of(plan, Adjust(), body), plan.pace.min_gap_s, plan.light.offsets

    def held(p: Point) -> bool:
        room = room_s(p.interval_s, gap_s, offsets)
        return reach.outgrown(p.exposure, p.together_s, room) and reach.gives_way(p.exposure)

    if (found := span(plan, ahead, held, open_end=False)) is None:
        return
    points, when = found
    longest_s = reach.darkest.shutter_s
    worst = max(math.log2(longest_s / p.exposure.shutter_s) for p in points)
    if worst <= _THIRD_EV:
        return
    first, last = ((p.interval_s, p.exposure.shutter_s) for p in (points[0], points[-1]))
    label, true = shutter_time(longest_s), f"{longest_s:.3g} s"
    truly = "" if true == label else f" ({label} is {true} in truth)"
    remedy = f"For less noise use intervals of {at_least(reach.holds_s)} from there on{truly}"
    remedy += "" if plan.pace.stretch_to_s else ", or let them grow with the exposure (stretch_to_s)"
    what = f"{when} {reach.held(first, last)}"
    yield Warned(costs=Costs.QUALITY, what=what, remedy=remedy, utc=points[0].utc, worst_ev=round(worst, 2))


def _label(point: Point) -> str:
    label = exposure_label(point.exposure.shutter_s, point.exposure.aperture, point.exposure.iso)
    return ", ".join(label.split("  "))
