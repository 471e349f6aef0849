"""The choice of a body's own that would mend a setting."""

from __future__ import annotations

from collections.abc import Callable

from controller.decide.checks.facts import CameraFacts
from controller.words.settings import Setting


def mending(camera: CameraFacts, setting: Setting, is_right: Callable[[str], bool]) -> dict[Setting, str] | None:
    """The first choice that `is_right`, given folded; None where the body has none or cannot be set."""
    now = camera.settings.get(setting)
    if now is None or not now.writable:
        return None
    found = next((choice for choice in now.choices if is_right(choice.strip().casefold())), None)
    return None if found is None else {setting: found}


def is_unknown(value: str) -> bool:
    """Whether the library has no word for what the body told, or the body told nothing; `value` folded."""
    return value in ("", "(null)") or value.startswith(("unknown", "0x")) or value.isdecimal()
