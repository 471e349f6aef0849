"""The same picture again and again."""

from __future__ import annotations

from controller.decide.health.facts import CameraSeen, Readings, Sign, of_shoots, says

NAME = "frozen picture"
IN_A_ROW = 6
_NOTHING_IN_IT = 0.9  # of its pixels black or blown out: such a picture may well repeat


def frozen(now: Readings) -> list[Sign]:
    """To the last pixel: a sensor's noise alone makes two pictures differ (common practice, no source)."""
    return of_shoots(now, NAME, _frozen)


def _frozen(camera: CameraSeen) -> Sign | None:
    if len(camera.pictures) < IN_A_ROW:
        return None
    last = camera.pictures[-IN_A_ROW:]
    same = len({p.fingerprint for p in last}) == 1
    bad = same and all(p.black < _NOTHING_IN_IT and p.clipped < _NOTHING_IN_IT for p in last)
    good = last[-1].fingerprint != last[-2].fingerprint
    what = f"The last {IN_A_ROW} pictures are the same to the last pixel"
    what = what if not good else "Pictures differ again"
    remedy = "Switch the camera off and on, and look at a frame on its card"
    return Sign(NAME, says(bad, good), what, remedy, camera.id, raise_s=60.0, urgent=True)
