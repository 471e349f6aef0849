"""How warm the machine is."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine, wrong
from controller.words.settings import Finding

NAME = "temperature"
_SLOWED = 1 << 2 | 1 << 3  # now: throttled, soft limit (Raspberry Pi documentation, from memory)
_WARM_C, _HOT_C = 75.0, 85.0  # a Pi slows down from 80 on, hard at 85 (the same)
_REMEDY = "Give it air and shade, or a heat sink"


def pi_heat(rig: RigFacts, _: PlanFacts | None) -> Finding | None:
    """Degrees Celsius of the processor; left out where no sensor tells."""
    slowed = bool((rig.throttled or 0) & _SLOWED)
    degrees = rig.temperature_c
    if degrees is None and rig.throttled is None:
        return doubt(NAME, "The temperature could not be read", _REMEDY) if rig.is_pi else None
    told = "The machine" + ("" if degrees is None else f" is at {degrees:.0f} °C")
    if degrees is not None and degrees >= _HOT_C:
        return wrong(NAME, f"{told}, too hot", _REMEDY)
    if slowed:
        return doubt(NAME, f"{told}{'' if degrees is None else ' and'} is slowed down", _REMEDY)
    if degrees is not None and degrees >= _WARM_C:
        return doubt(NAME, f"{told}, nearly too hot", _REMEDY)
    return fine(NAME, f"{told}{' is not slowed down by heat' if degrees is None else ''}")
