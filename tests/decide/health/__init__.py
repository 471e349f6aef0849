"""Readings for the health checks."""

from __future__ import annotations

from typing import Any

from controller.decide.health.facts import CameraSeen, Readings
from controller.decide.health.pictures import Look


def a_look(**facts: Any) -> Look:
    """A picture by day that came out as a clear sky promises."""
    usual = {"seq": 1, "sun_altitude_deg": 10.0, "rising": False, "expected_ev": 0.0, "found_ev": 0.2}
    return Look(**{**usual, "black": 0.01, "clipped": 0.0, "sharpness": 1.0, "fingerprint": 7, **facts})


def several(count: int, **facts: Any) -> tuple[Look, ...]:
    """So many, each with pixels of its own."""
    return tuple(a_look(**{"seq": n, "fingerprint": n, **facts}) for n in range(count))


def camera(**facts: Any) -> CameraSeen:
    return CameraSeen(**{"id": "camera-1", "connected": True, "shooting": True, **facts})


def of_camera(**facts: Any) -> Readings:
    return Readings(cameras=(camera(**facts),))
