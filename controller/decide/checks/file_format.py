"""Which files a frame leaves, and how large they are."""

from __future__ import annotations

import re

from controller.decide.checks.choosing import is_unknown, mending
from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine
from controller.words.phrases import size
from controller.words.settings import Finding, Setting

NAME = "file format"
_RAW = re.compile(r"\b[cms]?raw\b|\bnef\b")
_JPEG = re.compile(r"jpe?g|\bfine\b|\bnormal\b|\bbasic\b|\bstandard\b|\bstd\b|\bx\.fine\b|(?:^|\+ ?)c?[lms]\d?\b")


def file_format(camera: CameraFacts, _: PlanFacts | None) -> Finding:
    """RAW and JPEG, RAW or JPEG; RAW alone leaves no small picture that comes fast."""
    value = camera.value(Setting.FORMAT)
    each = "" if camera.frame_bytes is None else f", {size(camera.frame_bytes)} a frame"
    if is_unknown(value):
        remedy = "Choose RAW and a small JPEG in the body's menu"
        return doubt(NAME, f"The body does not tell which files it writes{each}", remedy, camera.id)
    shown = camera.settings[Setting.FORMAT].value
    raw, jpeg = has_raw(value), has_jpeg(value)
    if raw and not jpeg:
        remedy = "Choose RAW and a small JPEG: the JPEG is what the light is metered from, and what comes fast"
        fix = mending(camera, Setting.FORMAT, lambda choice: has_raw(choice) and has_jpeg(choice))
        return doubt(NAME, f"Frames are RAW alone ({shown}{each}): no fast small picture", remedy, camera.id, fix)
    if not jpeg:
        remedy = "Choose RAW and a small JPEG in the body's menu"
        return doubt(NAME, f"Frames are {shown}{each}, which has no JPEG to meter from", remedy, camera.id)
    return fine(NAME, f"Frames are {'RAW and JPEG' if raw else 'JPEG'} ({shown}{each})", camera.id)


def has_raw(value: str) -> bool:
    """Of a folded text."""
    return _RAW.search(value) is not None


def has_jpeg(value: str) -> bool:
    """Of a folded text."""
    return _JPEG.search(value) is not None
