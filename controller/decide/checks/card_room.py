"""Room on the card against what the plan takes."""

from __future__ import annotations

from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine, wrong
from controller.words.phrases import grouped, size
from controller.words.settings import Finding

NAME = "card room"
COUNTS_TO = 9999  # bodies count frames up to here only
_FEW = 100  # without a plan (common practice, no source)
RESERVE = 1.05  # files grow with noise (common practice, no source)
_REMEDY = "Put in an empty or a larger card, or choose smaller files"


def card_room(camera: CameraFacts, plan: PlanFacts | None) -> Finding:
    """Frames by the body's own count, bytes by the card's; the worse of the two counts."""
    room = _room(camera)
    if camera.free_bytes is None and camera.free_frames is None:
        return doubt(NAME, "The body does not tell how much room its card has", "Look at the card", camera.id)
    if camera.free_bytes == 0 or camera.free_frames == 0:
        return wrong(NAME, "There is no room on the card, or no card", _REMEDY, camera.id)
    if plan is None:
        if camera.free_frames is not None and camera.free_frames < _FEW:
            return doubt(NAME, f"The card has room for {room} only", _REMEDY, camera.id)
        return fine(NAME, f"The card has room for {room}", camera.id)
    if plan.frames is None:
        what = f"The card has room for {room}, and the plan has no end"
        return doubt(NAME, what, "See until when it lasts in the plan's forecast", camera.id)
    counted = camera.free_frames is not None and camera.free_frames < COUNTS_TO
    if counted and camera.free_frames is not None and camera.free_frames < plan.frames:
        return wrong(NAME, f"The card has room for {room}, the plan takes {grouped(plan.frames)}", _REMEDY, camera.id)
    if camera.free_bytes is not None and plan.card_bytes is not None and camera.free_bytes < plan.card_bytes * RESERVE:
        assumed = ", which is assumed" if plan.frame_bytes_assumed else ""
        each = f"{grouped(plan.frames)} frames of {size(plan.frame_bytes)}{assumed}"
        what = f"The card has {size(camera.free_bytes)} free, the plan takes {size(plan.card_bytes)}: {each}"
        if plan.frame_bytes_assumed or camera.free_bytes >= plan.card_bytes:
            return doubt(NAME, what, _REMEDY, camera.id)
        return wrong(NAME, what, _REMEDY, camera.id)
    return fine(NAME, f"The card has room for {room}, the plan takes {grouped(plan.frames)} frames", camera.id)


def _room(camera: CameraFacts) -> str:
    told = [] if camera.free_frames is None else [f"{grouped(camera.free_frames)} frames"]
    if camera.free_bytes is not None:
        told.append(size(camera.free_bytes))
    return ", ".join(told)
