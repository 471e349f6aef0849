"""What a battery gives in the cold, and how long it carries a rig.

Capacity against temperature is a straight line through two published points: what gives 100 % at 27 °C gives 50 % at
−18 °C (Isidor Buchmann, Battery University, BU-502 "Discharging at High and Low Temperatures", of batteries in
general). Both kinds that rigs run on lie near it or above. Lead-acid needs cells 1.19 times as large at 10 °C and 1.30
times at 4.4 °C (IEEE Std 485, temperature correction table, from memory): 84 % and 77 %, where the line has 81 % and
75 %. Lithium-ion cells of 18650 size give 80 to 90 % at 0 °C and around 60 % at −20 °C (makers' data sheets, from
memory), where the line has 70 % and 48 %.
"""

from __future__ import annotations

from dataclasses import dataclass

FULL_C, HALF_C = 27.0, -18.0
COLDEST_C = -20.0
"""Below it most lithium-ion data sheets promise nothing (from memory)."""

RESERVE = 0.8
"""The share of what a battery gives that is planned with; ageing and wind want the rest. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Supply:
    """A battery under a steady draw. `lasts_s` is until it is empty."""

    share: float  # of the battery's capacity that the temperature leaves, 0 … 1
    usable_wh: float
    lasts_s: float


def share_at(temperature_c: float) -> float:
    """The share of its capacity that a battery gives at a temperature, 0 … 1; 1 from 27 °C on."""
    line = 1.0 - 0.5 * (FULL_C - temperature_c) / (FULL_C - HALF_C)
    return min(1.0, max(0.0, line))


def supply(battery_wh: float, draw_w: float, temperature_c: float | None) -> Supply:
    """How long `draw_w` watts can be drawn; without a temperature the whole capacity counts."""
    share = 1.0 if temperature_c is None else share_at(temperature_c)
    return Supply(share, battery_wh * share, battery_wh * share / draw_w * 3600.0)


def energy_wh(draw_w: float, seconds: float) -> float:
    """Watt hours drawn in a length of time."""
    return draw_w * seconds / 3600.0
