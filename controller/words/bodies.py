"""What a body was seen to do: kept in the log, so that a plan can be worked out at home from its own figures."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePosixPath
from typing import Literal

from pydantic import Field

from controller.words.documents import Document
from controller.words.times import Utc

Basis = Literal["fetched files", "room on the card", "the body's own count"]


def kinds_of(camera_files: Iterable[str]) -> str:
    """Kinds of file that a frame left on the card, such as JPG+NEF."""
    return "+".join(sorted({PurePosixPath(name).suffix.lstrip(".").upper() for name in camera_files}))


class Timing(Document):
    """How long something took, over `count` times; at most 4.4 % too long, never too short."""

    count: int
    p50: float
    p95: float
    p99: float
    most: float


class Timings(Document):
    """How long a body takes over what a frame needs, while it shoots one kind of files; seconds but for `fetch`."""

    files: str = Field(description="kinds of file that a frame leaves on the card, such as JPG+NEF")
    call: Timing | None = Field(None, description="the call that releases the shutter")
    late: Timing | None = Field(None, description="from a frame's due time to that call")
    set: Timing | None = Field(None, description="setting the exposure, and reading it back")
    readout: Timing | None = Field(
        None,
        description="from the end of the exposure until the body could take the next; null of bodies that do not tell",
    )
    write: Timing | None = Field(
        None, description="from the end of the exposure until the body says that the frame is on the card"
    )
    preview: Timing | None = Field(None, description="from then until its small picture is on the rig")
    fetch: Timing | None = Field(
        None, description="seconds a megabyte, from when a frame could be fetched until all of it is on the rig"
    )


MEASURES: tuple[str, ...] = tuple(name for name in Timings.model_fields if name != "files")


class BeatFound(Document):
    """The shortest interval that a body was seen to hold, by test frames."""

    utc: Utc
    files: str = Field(description="kinds of file that a frame left on the card")
    exposure_s: float
    held_s: float | None = Field(description="the shortest interval that was held; null where none was")
    failed_s: float | None = Field(description="the next shorter one that was not; null where none failed")
    cause: str | None = Field(None, description="why that one was not held")
    frames: int = Field(description="test frames that were taken in all")


class SafeInterval(Document):
    """What leaves a body time for its frames, a fifth in reserve: both are to be kept."""

    step_s: float = Field(description="from one release to the next, however short the exposure; 0 where not known")
    gap_s: float = Field(description="from the end of an exposure to the next release")
    basis: str = Field(description="what that is from")

    def interval_s(self, exposure_s: float) -> float:
        """The shortest interval that is safe with an exposure."""
        return max(self.step_s, exposure_s + self.gap_s)


class BodyTimed(Document):
    """How long a body takes over its frames, as far as it was seen."""

    model: str
    serial: str
    safe: SafeInterval | None
    timings: list[Timings]
    beats: list[BeatFound]


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
    free_bytes: int | None = None
    free_frames: int | None = None
    battery_percent: int | None = None
    timings: list[Timings] = Field(default_factory=list, description="by kind of files")
    beats: list[BeatFound] = Field(default_factory=list, description="the last of each kind of files, the newest first")

    @property
    def key(self) -> tuple[str, str]:
        """What tells this body from others."""
        return self.model, self.serial
