"""What hangs on the rig's pins and does not work."""

from __future__ import annotations

from controller.decide.checks.wiring import NAME
from controller.decide.health.facts import Readings, Sign, says

_REMEDY = "The rig goes on trying, and shoots on"  # what else to do stands in each

_MENDS_ITSELF_S = 120.0
"""A sensor may be silent for a moment (common practice, no source)."""


def wiring(now: Readings) -> list[Sign]:
    """No sign where nothing is wired."""
    if now.wiring is None:
        return []
    bad = bool(now.wiring)
    what = "; ".join(now.wiring) if bad else "All that is wired works"
    return [Sign(NAME, says(bad, not bad), what, _REMEDY, raise_s=_MENDS_ITSELF_S)]
