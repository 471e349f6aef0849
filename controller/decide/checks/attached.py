"""Whether there is a camera at all, and its settings can be read."""

from __future__ import annotations

from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine, wrong
from controller.words.settings import Finding

NAME = "camera"


def attached(camera: CameraFacts, _: PlanFacts | None) -> Finding:
    """There, or why not."""
    if not camera.there:
        why, _stop, remedy = (camera.trouble or "").partition(". ")  # one that is told has its remedy behind it
        what = f"{camera.id} is not there: {why}" if why else f"No camera answers at {camera.address}"
        return wrong(NAME, what, remedy or "Switch it on, wake it, and look at its cable", camera.id)
    if camera.trouble is not None:
        what = f"{camera.model} is there, and its settings could not be read: {camera.trouble}"
        return doubt(NAME, what, "Look again in a while", camera.id)
    return fine(NAME, f"{camera.model} is there, at {camera.address}", camera.id)
