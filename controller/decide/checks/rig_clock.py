"""Whether something keeps the rig's clock right."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine
from controller.words.settings import Finding

NAME = "rig clock"


def rig_clock(rig: RigFacts, _: PlanFacts | None) -> Finding:
    """Synchronised, by the network or a receiver: the sun's events hang on it."""
    remedy = "Connect it to a network once, fit a clock module, or set the time by hand"
    if rig.synchronised is None:
        return doubt(NAME, "Whether the rig's clock is synchronised could not be read", "Look at the time by hand")
    if not rig.synchronised:
        return doubt(NAME, "The rig's clock is not synchronised: windows by the sun may be off", remedy)
    return fine(NAME, "The rig's clock is synchronised")
