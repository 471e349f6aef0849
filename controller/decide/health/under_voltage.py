"""The supply of a Raspberry Pi."""

from __future__ import annotations

from controller.decide.checks.pi_power import NAME
from controller.decide.health.facts import Readings, Sign, says
from controller.decide.pi import SUPPLY_REMEDY, UNDER_VOLTAGE


def under_voltage(now: Readings) -> list[Sign]:
    """Raised at the first dip: a weak supply spoils cards. Cleared after an hour without one."""
    if not now.is_pi or now.throttled is None:
        return []
    bad = now.dipped or bool(now.throttled & UNDER_VOLTAGE)
    what = "The Pi's supply is too weak" if bad else "The Pi's supply holds again"
    return [Sign(NAME, says(bad, not bad), what, SUPPLY_REMEDY, clear_s=3600.0, urgent=True)]
