"""Room on the cards."""

from __future__ import annotations

from controller.decide.checks.card_room import NAME, RESERVE
from controller.decide.health.facts import CameraSeen, Readings, Sign, says
from controller.decide.health.rig_disk import BACK, SOON_H
from controller.words.phrases import length

_REMEDY = "Change it, or free some space"


def card_room(now: Readings) -> list[Sign]:
    """By the body's own count of frames against those that its window still takes; by hours where that has no end."""
    signs = []
    for camera in now.cameras:
        room, wanted = camera.room_frames, camera.wanted_frames
        if not camera.connected or room is None:
            continue
        if wanted is None:
            signs += _lasting(camera)
            continue
        what = f"The card has room for {room} of {wanted} frames"
        bad, good = room < wanted, room >= wanted * RESERVE
        signs.append(Sign(NAME, says(bad, good), what, _REMEDY, camera.id, urgent=room < wanted / 10))
    return signs


def _lasting(camera: CameraSeen) -> list[Sign]:
    hours = camera.card_hours_left
    if hours is None:
        return []
    what = f"The card lasts for {length(hours * 3600)} at this pace"
    bad, good = hours < SOON_H, hours > SOON_H * BACK
    return [Sign(NAME, says(bad, good), what, _REMEDY, camera.id, urgent=hours < SOON_H / 10)]
