"""Films that the rig makes of a shoot by itself, or because somebody asked for one."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Any
from urllib.parse import quote

from pydantic import Field

from controller.words.documents import Document
from controller.words.times import Utc

SMALL_FRAMES = 750
"""Of a small film at most: half a minute, whatever the length of the window."""

FETCH_THEM = 'Have the plan fetch them: fetch = "preview" or "all" in [files]'
SEE_REPORT = "See in its report why each is missing"
"""Remedies for a shoot without pictures, where frames were got, and where none was."""

_REMARKS, _LINE = 20, 300  # lines that are told of a film at most, and characters of each


def first_of(remarks: Sequence[str]) -> list[str]:
    """Those that are told of a film, none of them long."""
    return [line if len(line) <= _LINE else f"{line[:_LINE]}…" for line in remarks[:_REMARKS]]


class ClipKind(StrEnum):
    DAY = "day"  # of one window, once it is over
    PREVIEW = "preview"  # small, of the window under way; made anew as it grows
    MADE = "made"  # asked for


class ClipState(StrEnum):
    SHOOTING = "shooting"  # its window is under way
    WAITING = "waiting"  # for its turn, for room, or for longer intervals
    MAKING = "making"
    READY = "ready"
    FAILED = "failed"


class ClipForm(Document):
    """How a film is made, which tells it from others of the same frames; null where it is not known."""

    width: int | None = Field(None, description="pixels across; null where it is not known, as the next ones")
    height: int | None = Field(None, description="pixels down")
    fps: float | None = Field(None, description="frames a second")
    codec: str | None = Field(None, description="h264 or hevc")
    bits: int | None = Field(None, description="of each colour, 8 or 10")
    steadied: bool | None = Field(None, description="whether brightness steps and flicker were removed")


class Clip(ClipForm):
    """One film of a shoot: what it is of, and whether it can be fetched."""

    shoot: str
    name: str = Field(description="of the file, ending in .mp4")
    kind: ClipKind
    camera: str | None = Field(None, description="null: the one with the most frames")
    date: str | None = Field(None, description="local day on which its window began; null where it is of all windows")
    shows: str | None = Field(None, description="which frames, for people; null: every one of its windows")
    state: ClipState
    why: str | None = Field(None, description="why it waits or failed, and what to do about it")
    progress: float | None = Field(None, description="share that is done, 0…1, while it is being made")
    frames: int = Field(0, description="that the film shows")
    missing: int = Field(0, description="slots that it does not show")
    remarks: list[str] = Field(default_factory=list, description="for people: what is left out, and why")
    duration_s: float = 0.0
    bytes: int = 0
    made_utc: Utc | None = None
    url: str | None = Field(None, description="where to fetch it, with range requests; null while there is none")


class ClipRecord(Clip):
    """The same as the rig keeps it beside the file: what to make, so that a restart goes on with it."""

    since_utc: float | None = Field(None, description="slots due from then on, POSIX seconds")
    until_utc: float | None = Field(None, description="and before then; null: no end was known")
    after_seq: int = Field(0, description="slots after this one")
    last_seq: int | None = Field(None, description="up to this one; null while more are to come")
    options: dict[str, Any] = Field(default_factory=dict, description="of the clip, as its options are written")
    asked: dict[str, Any] = Field(default_factory=dict, description="which frames, as FramesAsked is written")
    pictures: int | None = Field(None, description="that it shows at most, where that is known")
    tries: int = 0

    def told(self) -> Clip:
        """What others are told of it."""
        url = None if self.made_utc is None else f"/api/v1/shoots/{quote(self.shoot)}/clips/{self.name}"
        return Clip(**{name: getattr(self, name) for name in Clip.model_fields} | {"url": url})
