"""What a hand-over does not hold, and why: a row for each file that is not in the folder, or each slot without any."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence

from controller.words.documents import Frame, FrameState
from controller.words.times import iso

NAME = "missing.csv"
COLUMNS = ("shoot", "seq", "camera", "due_utc", "state", "camera_file", "file", "why")

_SIZES = re.compile(r"^has \d+ bytes on the rig instead of \d+$")
ON_CARD = "only on the card"


def why(frame: Frame) -> str:
    """Why nothing of this slot is on the rig."""
    if frame.state in (FrameState.MISSED, FrameState.LOST):
        return f"{frame.state.value}: {frame.cause}" if frame.cause else frame.state.value
    if frame.rig_freed_utc is not None:
        places = "a second place" if frame.copies is None else frame.copies.replace(" ", ", ")
        return f"deleted from the rig after it was copied to {places}"
    if frame.card_freed_utc is not None:
        return "deleted from the card, and not on the rig"
    if frame.state == FrameState.WRITTEN:
        return ON_CARD
    if frame.state == FrameState.RELEASED:
        return "the camera has not told yet that it has it"
    return "not on the rig"


def in_short(reason: str) -> str:
    """As files of one kind of trouble are counted: without figures of each, which stand in the row."""
    return _SIZES.sub("has another size on the rig than the log says", reason)


class MissingLines:
    """Lines with their CRLF (RFC 4180), one by one."""

    def __init__(self) -> None:
        self._line = io.StringIO()
        self._writer = csv.writer(self._line)

    def head(self) -> str:
        return self._spelt(COLUMNS)

    def row(self, frame: Frame, file: str | None, reason: str) -> str:
        """`file`: the name that it would have in the folder."""
        known = (frame.shoot, frame.seq, frame.camera, iso(frame.due_utc), frame.state.value, frame.camera_file)
        return self._spelt((*known, file, reason))

    def _spelt(self, cells: Sequence[object]) -> str:
        self._line.seek(0)
        self._line.truncate()
        self._writer.writerow(cells)
        return self._line.getvalue()
