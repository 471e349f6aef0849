"""Whether the rig knows what time it is."""

from __future__ import annotations

from controller.decide.checks.rig_clock import NAME
from controller.decide.health.facts import Readings, Sign, says
from controller.words.documents import ClockState

PATIENCE_S = 1200.0
"""A network sets a clock within minutes of the start, where it does at all (common practice, no source)."""


def rig_clock(now: Readings) -> list[Sign]:
    """Windows by the sun hang on it; urgent while they wait for it."""
    clock = now.clock
    if clock is None:
        return []
    right = clock.state is ClockState.RIGHT
    what = "The rig's clock is right" if right else f"The rig's clock is {clock.state}: {clock.why}"
    remedy = "Take your phone's time on the page, or connect the rig to a network once"
    return [Sign(NAME, says(not right, right), what, remedy, raise_s=PATIENCE_S, urgent=clock.windows_wait)]
