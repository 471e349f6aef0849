"""Room on the cards."""

from __future__ import annotations

from controller.decide.checks.card_room import NAME, RESERVE
from controller.decide.health.facts import Readings, Sign, says

_REMEDY = "Change it, or free some space"


def card_room(now: Readings) -> list[Sign]:
    """By the body's own count of frames against those that its window still takes."""
    signs = []
    for camera in now.cameras:
        room, wanted = camera.room_frames, camera.wanted_frames
        if not camera.connected or room is None or wanted is None:
            continue
        what = f"The card has room for {room} of {wanted} frames"
        bad, good = room < wanted, room >= wanted * RESERVE
        signs.append(Sign(NAME, says(bad, good), what, _REMEDY, camera.id, urgent=room < wanted / 10))
    return signs
