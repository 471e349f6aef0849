"""The body's battery."""

from __future__ import annotations

from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine, wrong
from controller.words.settings import Finding

NAME = "battery"
_EMPTY, _LOW = 10, 50  # per cent (common practice, no source)
REMEDY = "Charge or change it, or run the body from the mains"


def battery(camera: CameraFacts, _: PlanFacts | None) -> Finding:
    """Charge in per cent; bodies tell it in coarse steps."""
    percent = camera.battery_percent
    if percent is None:
        return doubt(NAME, "The body does not tell its battery", "Look at it on the body", camera.id)
    if percent <= _EMPTY:
        return wrong(NAME, f"The battery is nearly empty ({percent} %)", REMEDY, camera.id)
    if percent < _LOW:
        return doubt(NAME, f"The battery is at {percent} %", REMEDY, camera.id)
    return fine(NAME, f"The battery is at {percent} %", camera.id)
