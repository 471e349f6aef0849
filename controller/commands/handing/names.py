"""Which name each frame gets in the folder, settled before anything is copied."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import PurePosixPath
from typing import Protocol

from controller.commands.shoot_log import pages
from controller.results.handover.pattern import DEFAULTS, Pattern, bad, read_pattern
from controller.results.handover.safe import key
from controller.results.handover.taken import Taken, short
from controller.store import Store
from controller.words.documents import Frame, FrameState, Shoot
from controller.words.layout import frame_directory, frame_stem, preview_path

PICTURES, PREVIEWS = "pictures/", "previews/"
_NONE = frozenset({FrameState.DUE, FrameState.MISSED, FrameState.LOST})


class Names(Protocol):
    @property
    def text(self) -> str | None:
        """The pattern; None where pictures keep the rig's names."""
        ...

    def stem(self, frame: Frame) -> str:
        """Relative to the folder, without an ending."""
        ...

    def preview(self, frame: Frame) -> str:
        """Of its small picture, which lies apart so that nobody takes it for the picture."""
        ...


class OwnNames:
    """By a pattern, in a folder of their own."""

    def __init__(self, pattern: Pattern) -> None:
        self._pattern = pattern

    @property
    def text(self) -> str | None:
        return self._pattern.text

    def stem(self, frame: Frame) -> str:
        return PICTURES + self._pattern.stem(frame)

    def preview(self, frame: Frame) -> str:
        return f"{PREVIEWS}{self._pattern.stem(frame)}.jpg"


class RigNames:
    """As they lie on the rig and in its second places, relative to the shoot's folder."""

    text = None

    def stem(self, frame: Frame) -> str:
        path = frame_directory(frame.shoot, frame.due_utc, frame.camera) / frame_stem(frame.seq)
        return PurePosixPath(path).relative_to(f"shoots/{frame.shoot}").as_posix()

    def preview(self, frame: Frame) -> str:
        path = preview_path(frame.shoot, frame.seq, frame.camera)
        return path.relative_to(f"shoots/{frame.shoot}").as_posix()


def pictured(frame: Frame) -> bool:
    """Whether there is, or was, a picture of this slot."""
    return frame.state not in _NONE


async def frames_until(store: Store, shoot: Shoot, last_seq: int) -> AsyncIterator[Frame]:
    """All slots up to one, so that a shoot that runs meanwhile does not run ahead."""
    async for page in pages(store, shoot):
        for frame in page:
            if frame.seq > last_seq:
                return
            yield frame


async def own_names(store: Store, shoot: Shoot, last_seq: int, given: str | None) -> OwnNames:
    """Raises BadInput (bad-name): a pattern that cannot be used, or that gives two frames one name."""
    twice: set[int] = set()
    for text in DEFAULTS if given is None else (given,):
        pattern, taken = read_pattern(text, shoot), Taken()
        async for frame in frames_until(store, shoot, last_seq):
            if pictured(frame):
                taken.add(pattern.stem(frame))
        if not (twice := taken.twice()):
            return OwnNames(pattern)
    found: dict[str, Frame] = {}
    async for frame in frames_until(store, shoot, last_seq):
        name = pattern.stem(frame) if pictured(frame) else ""
        if name and short(key(name)) in twice:
            other = found.setdefault(key(name), frame)
            if other is not frame:
                one, two = (f"frame {each.seq} of {each.camera}" for each in (other, frame))
                remedy = "Add {camera}" if other.seq == frame.seq else "Add {seq}"
                raise bad(f"{one} and {two} would both be called {name}", f"{remedy} to the pattern")
    return OwnNames(pattern)  # two names that share 64 bits and are not one
