"""Slots that passed without a release."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from controller.decide.health.facts import CameraSeen, Readings, Sign, of_shoots, says
from controller.words.phrases import count, grouped

NAME = "missed slots"

LATELY = 20
"""Slots that are looked back on."""

MANY = 0.1
"""Their share that is raised; it is cleared when none is missed among as many (common practice, no source)."""


def usual_cause(causes: Iterable[str | None]) -> str | None:
    """The most frequent of these, the one that came first where two are; None where none is known."""
    known = Counter(cause for cause in causes if cause is not None)
    return max(known, key=known.__getitem__) if known else None


def missed_slots(now: Readings) -> list[Sign]:
    """Not while the camera is away: that is told by itself."""
    return of_shoots(now, NAME, _missed_slots)


def _missed_slots(camera: CameraSeen) -> Sign | None:
    if not camera.connected or camera.slots < LATELY:
        return None
    bad, good = camera.missed >= MANY * camera.slots, camera.missed == 0
    what = f"{grouped(camera.missed)} of the last {count(camera.slots, 'slot')} missed"
    what = f"{what}: {camera.cause}" if camera.missed and camera.cause else what
    remedy = "See the causes in the frame log, or use a longer interval"
    return Sign(NAME, says(bad, good), what, remedy, camera.id, urgent=camera.missed > camera.slots / 2)
