"""What a Raspberry Pi tells of its supply and its heat, and where its maker draws the lines.

Raspberry Pi documentation, "vcgencmd: get_throttled" and "Frequency management and thermal control" (from memory): bits
0 to 3 tell of now, 16 to 19 of any time since the start; the processor slows down from 80 °C on, and hard at 85 °C. (A
model 3B+ may be set to slow down a little from 60 °C on, which is no trouble to a rig.)
"""

from __future__ import annotations

UNDER_VOLTAGE, UNDER_VOLTAGE_SINCE_START = 1 << 0, 1 << 16
SLOWED = 1 << 2 | 1 << 3
"""Slowed down now, or at the soft limit of its temperature."""

SLOWS_C, HOT_C = 80.0, 85.0
WARM_C = 75.0
"""Below the first line by what a sunny hour adds (common practice, no source)."""

SUPPLY_REMEDY = "Use the supply that is made for this Pi, and a short thick cable"
HEAT_REMEDY = "Give it air and shade, or a heat sink"
