"""How far limits reach, and where an interval keeps the shutter from using them: for plans and rehearsals alike."""

from __future__ import annotations

import math
from dataclasses import dataclass

from controller.decide import exposure as dials
from controller.decide.bracket import exposures
from controller.decide.exposure import ANY_BODY, QUANTITIES, Body, Quantity, Triple
from controller.decide.plan import FollowLight, Plan
from controller.decide.step import Adjust, limits_in_force
from controller.words.phrases import figures
from controller.words.stops import shutter_time

_THIRD = 2 ** (1 / 3)
_NEAR = 1e-3
_FAR_EV = 99.0


@dataclass(frozen=True, slots=True)
class Reach:
    """The exposures at both ends of the limits where the interval is no hindrance, and the order of giving way."""

    darkest: Triple  # for the darkest scene
    brightest: Triple
    order: tuple[Quantity, ...]
    holds_s: float  # an interval that holds the exposures for the darkest scene, all of a bracket, with their gaps

    def outgrown(self, used: Triple, exposed_s: float, room_s: float) -> bool:
        """Whether a longer shutter is allowed and has no room; `exposed_s` are the exposures of an interval."""
        return used.shutter_s < self.darkest.shutter_s * (1 - _NEAR) and exposed_s * _THIRD > room_s + _NEAR

    def gives_way(self, used: Triple) -> bool:
        """Whether anything has given way that comes after the shutter."""
        after = self.order[self.order.index("shutter") + 1 :]
        higher = used.iso > self.brightest.iso * (1 + _NEAR)
        wider = used.aperture < self.brightest.aperture * (1 - _NEAR)
        return ("iso" in after and higher) or ("aperture" in after and wider)

    def held(self, first: tuple[float, float], last: tuple[float, float]) -> str:
        """What to say of a stretch in which something gives way for want of room: intervals and shutters, seconds."""
        after = self.order[self.order.index("shutter") + 1 :]
        aperture = after[:1] == ("aperture",) and self.brightest.aperture > self.darkest.aperture
        begins, ends = (
            f"{shutter_time(exposed_s)} of {figures(interval_s)} s" for interval_s, exposed_s in (first, last)
        )
        return (
            f"the interval holds the shutter, at {begins} first and {ends} at the end; "
            f"{shutter_time(self.darkest.shutter_s)} are allowed, "
            f"and {'the aperture opens' if aperture else 'ISO rises'} early"
        )


def reach_of(plan: Plan, adjust: Adjust, body: Body | None) -> Reach:
    """How far the limits in force reach on a body's dials."""
    limits, body = limits_in_force(plan, adjust), body or ANY_BODY
    order = plan.light.giving_way if isinstance(plan.light, FollowLight) else ()
    darkest, brightest = (dials.allocate(ev, limits, order, body, math.inf) for ev in (-_FAR_EV, _FAR_EV))
    shots, gap_s = exposures(plan.light, darkest, limits, body, math.inf), plan.pace.min_gap_s
    holds_s = sum(shot.shutter_s + gap_s for shot in shots)
    return Reach(darkest, brightest, (*order, *(name for name in QUANTITIES if name not in order)), holds_s)
