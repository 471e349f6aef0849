"""Room on the rig's disk, and how long it lasts."""

from __future__ import annotations

from controller.decide.checks.rig_disk import LOW_BYTES, NAME
from controller.decide.health.facts import Readings, Sign, says
from controller.words.phrases import length, size

SOON_H = 12.0
"""Hours left at the present pace: a person needs some to come (common practice, no source)."""

BACK = 1.5
"""How much more than what is raised there must be for it to be cleared (common practice, no source)."""


def rig_disk(now: Readings) -> list[Sign]:
    """Frames stay on the card once it is full, and light is metered no more."""
    free, hours = now.free_bytes, now.hours_left
    if free is None:
        return []
    bad = free < LOW_BYTES or (hours is not None and hours < SOON_H)
    good = free > LOW_BYTES * BACK and (hours is None or hours > SOON_H * BACK)
    told = "" if hours is None else f", enough for {length(hours * 3600)} at this pace"
    what = f"The rig's disk has {size(free)} free{told}"
    remedy = "Free some space on the rig's disk, or fetch less"
    return [Sign(NAME, says(bad, good), what, remedy, raise_s=60.0, clear_s=60.0, urgent=free < LOW_BYTES / 2)]
