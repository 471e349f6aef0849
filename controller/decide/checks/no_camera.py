"""A rig without any camera."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, wrong
from controller.words.settings import Finding

NAME = "camera"


def no_camera(rig: RigFacts, _: PlanFacts | None) -> Finding | None:
    """Nothing is attached at all; left out where something is."""
    if rig.cameras:
        return None
    remedy = "Switch a camera on and plug it in; one that is not on USB is named when the service is started (--camera)"
    return wrong(NAME, "No camera is attached", remedy)
