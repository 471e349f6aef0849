"""Cameras that do not come back."""

from __future__ import annotations

from controller.decide.checks.attached import NAME
from controller.decide.health.facts import Readings, Sign, says

AWAY_S = 120.0
"""What is back by itself within that is no matter for a person; docs/measurements.md tells how long it takes."""


def camera(now: Readings) -> list[Sign]:
    """Only while a shoot wants the camera; the rig goes on trying."""
    signs = []
    for seen in now.cameras:
        away = seen.shooting and not seen.connected
        what = f"Camera not there: {seen.trouble}" if away else "The camera is there"
        remedy = "The rig goes on trying"  # what else to do stands in the trouble
        signs.append(Sign(NAME, says(away, not away), what, remedy, seen.id, raise_s=AWAY_S, urgent=True))
    return signs
