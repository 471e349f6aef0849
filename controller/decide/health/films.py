"""Films that the rig makes by itself."""

from __future__ import annotations

from controller.decide.health.facts import Readings, Sign, says

NAME = "films"


def films(now: Readings) -> list[Sign]:
    """No frame is lost by it, and each is tried again: after a while somebody may want to know."""
    trouble = now.film_trouble
    what = "Films are made again" if trouble is None else f"A film could not be made: {trouble}"
    return [Sign(NAME, says(trouble is not None, trouble is None), what, now.film_remedy, raise_s=600.0)]
