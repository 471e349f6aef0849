"""Image stabilisation on a tripod moves the picture; no body tells it."""

from __future__ import annotations

from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt
from controller.words.settings import Finding

NAME = "stabilisation"


def stabilisation(camera: CameraFacts, _: PlanFacts | None) -> Finding:
    """A reminder: on a tripod it may shift the picture from frame to frame (common practice, no source)."""
    what = "Whether image stabilisation is off cannot be read"
    return doubt(NAME, what, "On a tripod switch it off, on the lens and in the body", camera.id)
