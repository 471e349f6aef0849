"""What a motion rig needs between two exposures, against the plan's gaps."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine, wrong
from controller.words.phrases import at_least, length
from controller.words.settings import Finding

NAME = "motion rig"


def motion(rig: RigFacts, plan: PlanFacts | None) -> Finding | None:
    """A move against the shortest gap and the shortest interval; left out where no motion rig is wired."""
    needs_s = rig.motion_s
    if needs_s is None:
        return None
    move = f"From the end of an exposure the motion rig needs {length(needs_s)} until it stands still"
    if plan is None:
        return fine(NAME, move)
    if needs_s >= plan.shortest_interval_s:
        what = f"{move}, and the shortest interval is {length(plan.shortest_interval_s)}"
        return wrong(NAME, what, f"Use intervals well above {at_least(needs_s)}, or a quicker move")
    if plan.least_gap_s < needs_s - 1e-6:
        follows = "exposures will be shorter, or intervals longer"
        what = f"{move}, and the shortest gap is {length(plan.least_gap_s)}: {follows}"
        return doubt(NAME, what, f"Use min_gap_s = {at_least(needs_s).removesuffix(' s')} and intervals to match")
    return fine(NAME, f"{move}, and the shortest gap is {length(plan.least_gap_s)}")
