"""Under-voltage of a Raspberry Pi."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine, wrong
from controller.decide.pi import SUPPLY_REMEDY, UNDER_VOLTAGE, UNDER_VOLTAGE_SINCE_START
from controller.words.settings import Finding

NAME = "supply of the Pi"


def pi_power(rig: RigFacts, _: PlanFacts | None) -> Finding | None:
    """Left out on other machines."""
    if not rig.is_pi:
        return None
    if rig.throttled is None:
        return doubt(NAME, "Under-voltage could not be asked for", "Install vcgencmd, and let this user run it")
    if rig.throttled & UNDER_VOLTAGE:
        return wrong(NAME, "The Pi's supply is too weak now", SUPPLY_REMEDY)
    if rig.throttled & UNDER_VOLTAGE_SINCE_START:
        return doubt(NAME, "The Pi's supply has been too weak since it was started", SUPPLY_REMEDY)
    return fine(NAME, "The Pi's supply has held since it was started")
