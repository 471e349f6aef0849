"""The bodies' batteries."""

from __future__ import annotations

from controller.decide.checks.battery import NAME, REMEDY
from controller.decide.health.facts import Readings, Sign, says

LOW, FULL_AGAIN = 15, 25
"""Per cent at which it is raised and cleared; bodies tell their charge in coarse steps (common practice, no source)."""


def battery(now: Readings) -> list[Sign]:
    """One sign for each body that tells."""
    return [
        Sign(NAME, says(percent <= LOW, percent >= FULL_AGAIN), f"Camera battery at {percent} %", REMEDY, camera.id)
        for camera in now.cameras
        if camera.connected and (percent := camera.battery_percent) is not None
    ]
