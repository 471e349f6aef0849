"""Frames must go to the card: in the body's memory they are lost if nobody fetches them."""

from __future__ import annotations

from controller.decide.checks.choosing import is_unknown, mending
from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine, wrong
from controller.words.settings import Finding, Setting

NAME = "card target"


def card_target(camera: CameraFacts, _: PlanFacts | None) -> Finding | None:
    """The card; left out where the body has no such choice."""
    value = camera.value(Setting.TARGET)
    if Setting.TARGET not in camera.settings:
        return None
    if is_card(value):
        return fine(NAME, "Frames go to the card", camera.id)
    shown, fix = camera.settings[Setting.TARGET].value, mending(camera, Setting.TARGET, is_card)
    remedy = "Put in a card, and choose it in the body's menu"
    if is_unknown(value):
        return doubt(NAME, "The body does not tell where frames go", remedy, camera.id, fix)
    return wrong(NAME, f"Frames go to {shown}, not to the card alone", remedy, camera.id, fix)


def is_card(value: str) -> bool:
    """Of a folded text."""
    return value in ("card", "memory card")
