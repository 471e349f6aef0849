"""The cameras that a plan names."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, fine, wrong
from controller.words.settings import Finding

NAME = "plan's cameras"


def plan_cameras(rig: RigFacts, plan: PlanFacts | None) -> Finding | None:
    """All on the rig; left out where the plan names none, or nothing is attached."""
    if plan is None or not plan.cameras or not rig.cameras:
        return None
    there = [camera.id for camera in rig.cameras]
    missing = [name for name in plan.cameras if name not in there]
    if missing:
        remedy = f"Name cameras of {', '.join(there)} in [cameras], or start the service with more"
        return wrong(NAME, f"The plan uses {missing[0]}, which this rig has not", remedy)
    return fine(NAME, f"The rig has {', '.join(plan.cameras)}, which the plan uses")
