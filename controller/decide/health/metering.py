"""Pictures that tell nothing of the light: the exposure goes by the sky model alone."""

from __future__ import annotations

from controller.decide.health.facts import CameraSeen, Readings, Sign, of_shoots, says
from controller.words.phrases import count

NAME = "metering"

BLIND, SEES = 20, 1
"""Frames since the last picture that could be read, from which it is raised and up to which it is cleared: the newest
frame's is still on its way (common practice, no source)."""

_REMEDY = "Look at the last picture on the camera, and whether it writes JPEGs, alone or beside RAW"


def metering(now: Readings) -> list[Sign]:
    """Not while the camera is away, nor where a plan asks for no pictures."""
    return of_shoots(now, NAME, _metering)


def _metering(camera: CameraSeen) -> Sign | None:
    if not camera.connected or camera.unread is None:
        return None
    blind, sees = camera.unread >= BLIND, camera.unread <= SEES
    why = f": {camera.blind}" if camera.blind else ""
    frames = count(camera.unread, "frame")
    what = f"No picture of the last {frames} could be read, the light is not metered{why}"
    what = "Pictures can be read again" if sees else what
    return Sign(NAME, says(blind, sees), what, _REMEDY, camera.id, raise_s=60.0)
