"""When a motion rig may move, and when its camera stands still again. Moments are seconds of one clock."""

from __future__ import annotations

from dataclasses import dataclass

from controller.decide.plan import Plan
from controller.decide.wiring.document import Motion
from controller.words.brackets import index_of

MOVING = "the motion rig was still moving"
"""Cause of a missed slot."""

_NEVER = float("-inf")


@dataclass(frozen=True, slots=True)
class Move:
    """One move: the pulse's beginning and end, and from when on the camera stands still."""

    begins: float
    ends: float
    still: float

    def late(self, begun: float, ended: float) -> Move:
        """The same move as it came about."""
        return Move(begun, ended, self.still + max(0.0, ended - self.ends))


def move_after(motion: Motion, exposed: float) -> Move:
    """The move that follows an exposure whose end is at `exposed`."""
    begins = exposed + motion.after_s
    ends = begins + motion.pulse_s
    return Move(begins, ends, ends + motion.settle_s)


def moves_after(plan: Plan, seq: int) -> bool:
    """Whether the rig moves after slot `seq`: not between the exposures of a bracket, which want one view."""
    return index_of(seq, plan.light.offsets) == len(plan.light.offsets) - 1


def with_motion(plan: Plan, motion: Motion | None) -> Plan:
    """The plan whose least gap holds a move, as `with_gap`."""
    return with_gap(plan, None if motion is None else motion.needs_s)


def with_gap(plan: Plan, needs_s: float | None) -> Plan:
    """The plan whose least gap is `needs_s` at least: exposures are decided to leave it.

    Within a bracket the gaps grow too, though the rig stands still there.
    """
    if needs_s is None or needs_s <= plan.pace.min_gap_s:
        return plan
    pace = plan.pace.model_copy(update={"min_gap_s": needs_s})
    return plan.model_copy(update={"pace": pace})


def released_at(due: float, latest: float, still: float = _NEVER) -> float | None:
    """When a slot is released that must not come before `still`; None where that is later than `latest`."""
    at = max(due, still)
    return at if at <= latest else None
