"""One release must give one frame, at once."""

from __future__ import annotations

from controller.decide.checks.choosing import is_unknown, mending
from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine, wrong
from controller.words.settings import Finding, Setting

NAME = "drive mode"


def drive(camera: CameraFacts, _: PlanFacts | None) -> Finding | None:
    """Single; left out where the body has no such control."""
    value = camera.value(Setting.DRIVE)
    if Setting.DRIVE not in camera.settings:
        return None
    if is_single(value):
        return fine(NAME, "The drive mode is single", camera.id)
    shown, fix = camera.settings[Setting.DRIVE].value, mending(camera, Setting.DRIVE, is_single)
    if any(word in value for word in ("timer", "delay", "remote", "mirror", "bracket")):
        what = f"The drive mode is {shown}: a release would give no frame, a late one or several"
        return wrong(NAME, what, "Set the drive mode to single", camera.id, fix)
    what = (
        f"The drive mode is {shown}, not single" if not is_unknown(value) else "The body does not tell its drive mode"
    )
    return doubt(NAME, what, "Set the drive mode to single", camera.id, fix)


def is_single(value: str) -> bool:
    """Of a folded text."""
    return value.startswith("single") or value in ("normal", "quiet release")
