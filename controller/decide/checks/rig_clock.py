"""Whether something keeps the rig's clock right."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine
from controller.decide.clock_trust import AGREE_S
from controller.words.settings import Finding

NAME = "rig clock"
REMEDY = "Connect it to a network once, fit a clock module, or take a phone's time on the page"


def rig_clock(rig: RigFacts, _: PlanFacts | None) -> Finding:
    """Synchronised, by the network or a receiver, or kept by a battery clock: the sun's events hang on it."""
    if rig.synchronised:
        return fine(NAME, "The rig's clock is synchronised")
    if rig.battery_off_s is not None and abs(rig.battery_off_s) <= AGREE_S:
        return fine(NAME, "A battery clock keeps the rig's time")
    if rig.synchronised is None:
        return doubt(NAME, "Whether the rig's clock is synchronised could not be read", "Look at the time by hand")
    return doubt(NAME, "The rig's clock is not synchronised: windows by the sun may be off", REMEDY)
