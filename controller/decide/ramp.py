"""How fast the exposure may change: time that has passed pays for steps, by the plan's `max_ev_per_min`.

What is not spent is kept for one step, so that steps of a third come as evenly as the limit says at any interval. A
step that a body's dial makes larger is paid for afterwards. Limits changed while shooting are closed in on likewise.
"""

from __future__ import annotations

import math
from dataclasses import replace

from controller.decide import exposure as dials
from controller.decide.exposure import Body, Limits, Triple
from controller.decide.follow import STEP_EV
from controller.decide.plan import FollowLight

_SLACK = 1e-6
_COARSE_EV = 0.51  # so far off, a dial of full stops has a step that is nearer


def most_ev(rule: FollowLight, unspent_s: float) -> float:
    """The largest change that so many unspent seconds pay for, EV: thirds of a stop, as many as are whole."""
    return STEP_EV * max(0, math.floor(unspent_s / _third_s(rule) + _SLACK))


def left_s(rule: FollowLight, unspent_s: float, step_ev: float) -> float:
    """Seconds that stay unspent after a step: those of a third at most, and below 0 where a step cost more."""
    return min(_third_s(rule), unspent_s - 60 * abs(step_ev) / rule.max_ev_per_min)


def step(
    rule: FollowLight, held: Triple, wanted_ev: float, most_ev: float, limits: Limits, body: Body, longest_s: float
) -> Triple:
    """The triple to go on with from the one in force towards `wanted_ev`, by `most_ev` at most.

    That is exceeded where a body's dial has nothing nearer, and where the interval leaves no other shutter. A triple
    outside of limits that were changed comes inside at once where that is no jump, and else step by step.
    """
    off = wanted_ev - held.ev
    aim_ev = held.ev + max(-most_ev, min(most_ev, off))
    chosen = dials.allocate(aim_ev, limits, rule.giving_way, body, longest_s)
    moved = abs(chosen.ev - held.ev)
    if moved < _SLACK and most_ev > 0 and abs(off) > _COARSE_EV:
        return dials.allocate(held.ev + math.copysign(_COARSE_EV, off), limits, rule.giving_way, body, longest_s)
    if moved <= most_ev + _SLACK or dials.allowed(held, limits, body, longest_s):
        return chosen
    aim_ev = held.ev + math.copysign(most_ev, chosen.ev - held.ev)
    return dials.allocate(aim_ev, around(limits, held), rule.giving_way, body, longest_s)


def around(limits: Limits, held: Triple) -> Limits:
    """Limits with a triple inside."""
    return replace(
        limits,
        shutter_s=_with(limits.shutter_s, held.shutter_s),
        aperture=_with(limits.aperture, held.aperture),
        iso=_with(limits.iso, held.iso),
    )


def _with(limit: dials.Range, value: float) -> dials.Range:
    return min(limit[0], value), max(limit[1], value)


def _third_s(rule: FollowLight) -> float:
    return 60 * STEP_EV / rule.max_ev_per_min
