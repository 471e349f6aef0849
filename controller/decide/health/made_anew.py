"""A log that was made anew: what was lost with the old one is told for days, since nobody may come sooner."""

from __future__ import annotations

from controller.decide.health.facts import Readings, Sign, says

NAME = "log made anew"

_REMEDY = "Pair phones again (duskhand pair), and copy the rig's directory to another disk: its own may be failing"


def made_anew(now: Readings) -> list[Sign]:
    """Over restarts too; that the log is damaged, or cannot be written, is a finding of its own."""
    stands = now.made_anew is not None
    what = now.made_anew or "The frame log has been whole since it was made anew"
    return [Sign(NAME, says(stands, not stands), what, _REMEDY, urgent=True)]
