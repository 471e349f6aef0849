"""The exposure of a window's first frame: what test frames before it tell of the light.

A search, since the sky model may be many stops off and a clipped frame tells no more than a bound.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.decide import exposure as dials
from controller.decide import follow
from controller.decide.exposure import ANY_BODY, Body, Triple
from controller.decide.follow import Light
from controller.decide.meter import Reading, scene_ev
from controller.decide.place import place_at
from controller.decide.plan import FollowLight, Plan
from controller.decide.step import Adjust, limits_in_force

MOST = 5
"""Test frames before one window."""

STEP_EV = 4.0
"""How far to go on from a frame that is mostly clipped, or black."""

_BOUND = 0.5  # share of pixels at an end of the scale from which a frame is a bound
_NEAR_EV = 0.5  # a picture exposed no further off than that is read well, by any curve


def most_before(plan: Plan) -> int:
    """Up to how many test frames are taken before a window; they stay on the card."""
    rule = plan.light
    return MOST if isinstance(rule, FollowLight) and rule.test_frame and plan.files.fetch != "none" else 0


@dataclass(frozen=True, slots=True)
class Search:
    """Where it stands: the offset from the sky model to expose for next, and the light as the last picture has it."""

    offset_ev: float = 0.0
    light: Light | None = None
    settled: bool = False


def exposure_for(
    plan: Plan, rule: FollowLight, adjust: Adjust, body: Body | None, search: Search, utc: float, longest_s: float
) -> Triple:
    """What the next test frame is exposed with around `utc`, POSIX seconds; `longest_s` at most."""
    place = place_at(plan.site, utc)
    target_ev = follow.target_ev(rule, place.model_ev(utc) + search.offset_ev, place.altitude_deg, adjust.bias_ev)
    return dials.allocate(target_ev, limits_in_force(plan, adjust), rule.giving_way, body or ANY_BODY, longest_s)


def looked(plan: Plan, search: Search, exposure: Triple, mid_utc: float, reading: Reading) -> Search:
    """Take in a test frame, exposed around `mid_utc`. Settled once a picture that is no bound bears out the offset."""
    sky_ev = place_at(plan.site, mid_utc).model_ev(mid_utc)
    ev = scene_ev(reading, exposure.ev)
    guess = Light(offset_ev=search.offset_ev)
    light = follow.measured(guess, mid_utc, sky_ev, ev, reading.clipped, reading.black)
    if reading.clipped > _BOUND:
        return Search(search.offset_ev + STEP_EV, light)
    if reading.black > _BOUND:
        return Search(search.offset_ev - STEP_EV, light)
    return Search(light.offset_ev, light, abs(light.offset_ev - search.offset_ev) <= _NEAR_EV)
