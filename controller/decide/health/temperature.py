"""How warm the machine is."""

from __future__ import annotations

from controller.decide.checks.pi_heat import NAME
from controller.decide.health.facts import Readings, Sign, says
from controller.decide.pi import HEAT_REMEDY, SLOWED, SLOWS_C, WARM_C


def temperature(now: Readings) -> list[Sign]:
    """Raised where a Pi slows itself down, cleared well below that."""
    degrees, slowed = now.temperature_c, bool((now.throttled or 0) & SLOWED)
    if degrees is None and now.throttled is None:
        return []
    bad = slowed or (degrees is not None and degrees >= SLOWS_C)
    good = not slowed and (degrees is None or degrees < WARM_C)
    told = "The machine" + ("" if degrees is None else f" is at {degrees:.0f} °C")
    what = f"{told}{'' if degrees is None else ' and'} is slowed down by heat" if slowed else told
    return [Sign(NAME, says(bad, good), what, HEAT_REMEDY, raise_s=120.0, clear_s=600.0)]
