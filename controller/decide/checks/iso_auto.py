"""Automatic ISO would turn every step of the plan into another."""

from __future__ import annotations

from controller.decide.checks.choosing import mending
from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine, wrong
from controller.words.no_number import is_auto
from controller.words.settings import Finding, Setting

NAME = "automatic ISO"
_REMEDY = "Switch automatic ISO off in the body's menu"


def iso_auto(camera: CameraFacts, _: PlanFacts | None) -> Finding:
    """Off: as a control of its own, or as a choice among the ISO speeds."""
    own, iso = camera.value(Setting.ISO_AUTO), camera.value(Setting.ISO)
    if own in ("on", "1", "auto"):
        return wrong(NAME, "Automatic ISO is on", _REMEDY, camera.id, mending(camera, Setting.ISO_AUTO, is_off))
    if is_auto(iso):
        fix = mending(camera, Setting.ISO, lambda choice: choice.isdecimal())
        return wrong(NAME, "ISO is automatic", "Set ISO to a number", camera.id, fix)
    if is_off(own) or (any(figure.isdecimal() for figure in iso) and not iso.startswith("unknown")):
        return fine(NAME, "Automatic ISO is off", camera.id)
    return doubt(NAME, "The body does not tell whether ISO is automatic", _REMEDY, camera.id)


def is_off(value: str) -> bool:
    """Of a folded text."""
    return value in ("off", "0")
