"""Facts for the checks, as makers spell them: typed from memory of the bodies' menus and of libgphoto2's tables."""

from __future__ import annotations

from typing import Any

from controller.decide.checks.facts import CameraFacts, PlanFacts, RigFacts
from controller.words.settings import Setting, SettingNow


def camera(setting: Setting | None = None, value: str = "", *choices: str, writable: bool = True, **facts: Any) -> Any:
    """A camera that is there, with one setting."""
    known = {} if setting is None else {setting: shown(setting, value, *choices, writable=writable)}
    return CameraFacts(**{"id": "camera-1", "address": "usb:", "model": "Body", "settings": known, **facts})


def shown(setting: Setting, value: str, *choices: str, writable: bool = True) -> SettingNow:
    return SettingNow(setting=setting, control="x", value=value, choices=list(choices), writable=writable)


def plan(**facts: Any) -> PlanFacts:
    usual = {"name": "dusk", "frames": 400, "longest_exposure_s": 8.0, "shortest_exposure_s": 0.01}
    times = {"shortest_interval_s": 10.0, "longest_interval_s": 20.0, "least_gap_s": 2.0, "least_step_s": 10.0}
    sizes = {"frame_bytes": 3e7, "card_bytes": 12e9, "rig_bytes": 4e7}
    return PlanFacts.model_validate({**usual, **times, **sizes, **facts})


def rig(**facts: Any) -> RigFacts:
    return RigFacts(**facts)
