"""What a body was seen to do: kept in the log, so that a plan can be worked out at home from its own figures."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from controller.words.documents import Document
from controller.words.times import Utc

Basis = Literal["fetched files", "room on the card", "the body's own count"]


class BodySeen(Document):
    """A body as it was last seen; None is what it never showed."""

    model: str
    serial: str
    seen_utc: Utc
    files: str | None = Field(None, description="kinds of file that a frame leaves on the card, such as JPG+NEF")
    frame_bytes: float | None = Field(None, description="mean bytes of a frame on the card, a pair counted whole")
    basis: Basis | None = Field(None, description="where frame_bytes is from")
    frames: int | None = Field(None, description="how many frames that is the mean of")
    preview_bytes: float | None = Field(None, description="mean bytes of a frame's small picture")
    write_s: float | None = Field(
        None, description="seconds from the end of an exposure until its file is on the card: of twenty, the slowest"
    )
    free_bytes: int | None = None
    free_frames: int | None = None
    battery_percent: int | None = None
