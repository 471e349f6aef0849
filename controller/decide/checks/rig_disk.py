"""The rig's disk against what the plan fetches."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine, wrong
from controller.words.phrases import size
from controller.words.settings import Finding

NAME = "rig disk"
LOW_BYTES = 1_000_000_000
_REMEDY = "Free some space on the rig's disk, or fetch less"


def rig_disk(rig: RigFacts, plan: PlanFacts | None) -> Finding:
    """A failure where it would fill: frames go on to the card, but no light is metered from then on."""
    free = rig.free_bytes
    if free is None:
        return doubt(NAME, "The room on the rig's disk could not be read", "See that its directory is there")
    if plan is not None and plan.rig_bytes is not None and plan.rig_bytes > free:
        what = f"The rig's disk has {size(free)} free, the plan fetches {size(plan.rig_bytes)}"
        return wrong(NAME, what, _REMEDY)
    if free < LOW_BYTES:
        return doubt(NAME, f"The rig's disk has {size(free)} free only", _REMEDY)
    return fine(NAME, f"The rig's disk has {size(free)} free")
