"""How warm the machine is."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine, wrong
from controller.decide.pi import HEAT_REMEDY, HOT_C, SLOWED, WARM_C
from controller.words.settings import Finding

NAME = "temperature"


def pi_heat(rig: RigFacts, _: PlanFacts | None) -> Finding | None:
    """Degrees Celsius of the processor; left out where no sensor tells."""
    slowed = bool((rig.throttled or 0) & SLOWED)
    degrees = rig.temperature_c
    if degrees is None and rig.throttled is None:
        return doubt(NAME, "The temperature could not be read", HEAT_REMEDY) if rig.is_pi else None
    told = "The machine" + ("" if degrees is None else f" is at {degrees:.0f} °C")
    if degrees is not None and degrees >= HOT_C:
        return wrong(NAME, f"{told}, too hot", HEAT_REMEDY)
    if slowed:
        return doubt(NAME, f"{told}{'' if degrees is None else ' and'} is slowed down", HEAT_REMEDY)
    if degrees is not None and degrees >= WARM_C:
        return doubt(NAME, f"{told}, nearly too hot", HEAT_REMEDY)
    return fine(NAME, f"{told}{' is not slowed down by heat' if degrees is None else ''}")
