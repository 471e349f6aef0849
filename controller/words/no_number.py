"""What a body's texts mean that are no number where one could stand, and the few that stand for a number all the same.

Spellings as libgphoto2 2.5.34 prints them for the makers that it knows (camlibs/ptp2/config.c).
"""

from __future__ import annotations

from enum import StrEnum


class NoNumber(StrEnum):
    BULB = "bulb"  # held open for as long as it is told
    TIME = "time"  # opened by one press and closed by the next
    AUTO = "auto"  # the body chooses
    UNKNOWN = "unknown"  # nothing, or a word that nobody knows


_BULB = frozenset({"bulb", "65535/65535", "429496.7295s", "429496,7295s", "4294967295"})
_TIME = frozenset({"time", "65535/65533"})
_AUTO_ISO = frozenset({"-1", "-2", "-3", "65535"})  # three automatics of Fujifilm bodies, and PTP's own figure

LOW_PERCENT = 5
"""What 'Low' stands for on bodies that tell their battery in steps (common practice, no source)."""


def meaning(text: str) -> NoNumber:
    """What a text means that no parser of `stops` reads as a number."""
    folded = text.strip().casefold()
    if folded in _BULB:
        return NoNumber.BULB
    if folded in _TIME:
        return NoNumber.TIME
    return NoNumber.AUTO if is_auto(folded) else NoNumber.UNKNOWN


def is_auto(text: str) -> bool:
    """Whether an ISO speed, an aperture or a time is left to the body."""
    folded = text.strip().casefold()
    return "auto" in folded or folded in _AUTO_ISO


def count(text: str) -> int | None:
    """The number in '80%' or '1234'; None for 'Unknown' and the like."""
    figures = text.strip().removesuffix("%").strip()
    return int(figures) if figures.isdecimal() else None


def battery_percent(text: str) -> int | None:
    """Charge behind a body's text, steps such as 'Low' included; None where it does not tell."""
    return LOW_PERCENT if text.strip().casefold() == "low" else count(text)
