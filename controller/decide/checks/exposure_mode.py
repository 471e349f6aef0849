"""The body must leave the exposure to the plan: its mode is M."""

from __future__ import annotations

from controller.decide.checks.choosing import is_unknown, mending
from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine, wrong
from controller.words.settings import Finding, Setting

NAME = "exposure mode"
_OWN = ("c1", "c2", "c3", "u1", "u2", "u3", "custom", "lock")  # a person's own mode; what is inside is not told


def exposure_mode(camera: CameraFacts, _: PlanFacts | None) -> Finding:
    """M, or what to do about it."""
    value, fix = camera.value(Setting.EXPOSURE_MODE), mending(camera, Setting.EXPOSURE_MODE, is_manual)
    if is_manual(value):
        return fine(NAME, "The exposure mode is manual", camera.id)
    if is_unknown(value) or value in _OWN:
        what = f"The exposure mode reads {value}" if value else "The body does not tell its exposure mode"
        return doubt(NAME, f"{what}: whether that is manual is not known", "See that it is M", camera.id, fix)
    shown = camera.settings[Setting.EXPOSURE_MODE].value
    return wrong(NAME, f"The exposure mode is {shown}, not manual", "Turn the mode dial to M", camera.id, fix)


def is_manual(value: str) -> bool:
    """Of a folded text."""
    return value in ("m", "manual", "manual exposure")
