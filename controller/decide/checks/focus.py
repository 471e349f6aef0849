"""Focus must be off: a body that searches in the dark does not release."""

from __future__ import annotations

from controller.decide.checks.choosing import is_unknown, mending
from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine, wrong
from controller.words.settings import Finding, Setting

NAME = "focus"


def focus(camera: CameraFacts, _: PlanFacts | None) -> Finding:
    """Manual, or what to do about it."""
    value, fix = camera.value(Setting.FOCUS), mending(camera, Setting.FOCUS, is_manual)
    if is_manual(value):
        return fine(NAME, "Focus is manual", camera.id)
    remedy = "Focus once, then put the switch on the lens or body to manual focus"
    if is_unknown(value) or not _searches(value):
        what = f"Focus reads {value}" if value else "The body does not tell how it focuses"
        return doubt(NAME, f"{what}: whether it is off is not known", remedy, camera.id, fix)
    shown = camera.settings[Setting.FOCUS].value
    return wrong(NAME, f"The body focuses by itself ({shown}), and may not release in the dark", remedy, camera.id, fix)


def is_manual(value: str) -> bool:
    """Of a folded text."""
    return value in ("manual", "manual focus", "mf", "m") or value.startswith("mf (")


def _searches(value: str) -> bool:
    return "af" in value or "auto" in value or value in ("one shot", "ai servo", "ai focus", "dmf")
