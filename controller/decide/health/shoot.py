"""Shoots that have failed, and a log that cannot be written."""

from __future__ import annotations

from controller.decide.health.facts import Readings, Sign, says

NAME, LOG = "shoot", "frame log"


def shoot(now: Readings) -> list[Sign]:
    """A shoot that has failed stands until the next one is started."""
    failed = ", ".join(f"{name}: {cause}" for name, cause in now.failed.items())
    what = f"The shoot has failed: {failed}" if failed else "No shoot has failed"
    return [Sign(NAME, says(bool(failed), not failed), what, "Start its plan again", urgent=True)]


def frame_log(now: Readings) -> list[Sign]:
    """Releases go on meanwhile, and are written down when it can be. Damage is told until the rig is started again."""
    if now.damaged is not None:
        return [Sign(LOG, "raise", now.damaged, "Copy the rig's directory away, and look at its disk", urgent=True)]
    what = "The frame log is written" if now.unlogged is None else f"The frame log cannot be written: {now.unlogged}"
    bad = now.unlogged is not None
    return [Sign(LOG, says(bad, not bad), what, "Look at the rig's disk", raise_s=30.0, urgent=True)]
