"""How many bytes a plan's frames take, on the card and on the rig."""

from __future__ import annotations

import math
import re

from controller.decide.retention import CARD_KEEPS
from controller.words.errors import BadInput

FRAME_BYTES = 30e6
"""RAW and JPEG of a body of 24 megapixels, where nothing better is known. Common practice, no source."""

PREVIEW_BYTES = 50e3
"""The small picture inside a frame, where none was seen. Common practice, no source."""

ROW_BYTES = 400.0
"""A frame in the log, its indices included (measured, docs/measurements.md)."""

_SIZE = re.compile(r"(\d{1,12}(?:\.\d{1,6})?)\s*(MB|GB|TB|MiB|GiB|TiB)", re.IGNORECASE)
_UNITS = {"mb": 1e6, "gb": 1e9, "tb": 1e12, "mib": 2.0**20, "gib": 2.0**30, "tib": 2.0**40}
_MOST_FRAMES = 1e15  # no card holds more, whatever is asked


def whole_frames(fetch: str, frames: int) -> int:
    """How many of `frames` are fetched whole under a plan's `[files] fetch`."""
    if fetch == "all":
        return frames
    return frames // int(fetch[6:]) if fetch.startswith("every ") else 0


def rig_bytes(fetch: str, frames: int, frame_bytes: float, preview_bytes: float) -> float:
    """What the rig keeps of `frames`: whole files, previews and the log."""
    previews = 0 if fetch == "none" else frames
    return whole_frames(fetch, frames) * frame_bytes + previews * preview_bytes + frames * ROW_BYTES


def frames_in_rig(fetch: str, free_bytes: float, frame_bytes: float, preview_bytes: float) -> float:
    """After how many frames the rig's disk has no more room."""
    step = int(fetch[6:]) if fetch.startswith("every ") else 1
    return free_bytes / (rig_bytes(fetch, step, frame_bytes, preview_bytes) / step)


def frames_in_card(card_bytes: float, frame_bytes: float) -> int:
    """How many frames fit a card."""
    return math.floor(min(card_bytes / frame_bytes, _MOST_FRAMES))


def stays_on_card(every: int, frames: int) -> int:
    """How many of `frames`, of which every so manyth is fetched, stay on a card from which such go, at the least.

    Of the newest, whether they are fetched or not, none goes.
    """
    return frames - max(0, frames - CARD_KEEPS) // every


def frames_through_card(every: int, room: float) -> float:
    """After how many frames such a card is full, at the latest: infinity where never.

    A frame needs its room before an older one may go.
    """
    beyond = math.floor(room) - CARD_KEEPS - 1
    if beyond < 0:
        return max(0, math.floor(room))
    return CARD_KEEPS + 1 + beyond * every // (every - 1) if every > 1 else math.inf


def parse_size(text: str, where: str) -> float:
    """Bytes of a size such as '64GB' or '1.5 TB', counted as makers of cards do. Raises BadInput (bad-size)."""
    found = _SIZE.fullmatch(text.strip())
    if found is None or float(found[1]) <= 0:
        raise BadInput("bad-size", f"{text!r} is no size", where, "Write it like 64GB, 500MB or 1.5TB")
    return float(found[1]) * _UNITS[found[2].lower()]
