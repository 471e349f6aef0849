"""Under-voltage of a Raspberry Pi."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine, wrong
from controller.words.settings import Finding

NAME = "supply of the Pi"
_NOW, _SINCE_START = 1 << 0, 1 << 16  # Raspberry Pi documentation, vcgencmd get_throttled (from memory)
_REMEDY = "Use the supply that is made for this Pi, and a short thick cable"


def pi_power(rig: RigFacts, _: PlanFacts | None) -> Finding | None:
    """Left out on other machines."""
    if not rig.is_pi:
        return None
    if rig.throttled is None:
        return doubt(NAME, "Under-voltage could not be asked for", "Install vcgencmd, and let this user run it")
    if rig.throttled & _NOW:
        return wrong(NAME, "The Pi's supply is too weak now", _REMEDY)
    if rig.throttled & _SINCE_START:
        return doubt(NAME, "The Pi's supply has been too weak since it was started", _REMEDY)
    return fine(NAME, "The Pi's supply has held since it was started")
