"""Where a hand-over goes, whatever it is."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from controller.copying.far import BY_ITSELF
from controller.copying.process import PlaceProcess
from controller.words.documents import Frame
from controller.words.errors import CopyError, DuskhandError
from controller.words.no_room import FULL

MARKER = "hand-over.json"
"""Which shoot a folder is of, and how its pictures are named: the first document that is put there."""

_RIGHTS = (errno.EACCES, errno.EPERM, errno.EROFS)
_SPACE = "Free some space there"
_BY_PLACE = {  # instead of remedies that are meant for the service, which tries again by itself
    "place-full": _SPACE,
    "place-failed": "Look at the place",
    "copy-damaged": "The disk or the line there is bad: look at it",
    "copy-process": "Look why it was ended: it may be that no memory was left",
}


class NoRoom(Exception):
    """Nothing more fits there."""


@dataclass(frozen=True, slots=True)
class Sent:
    """A picture that is there, whole; `copied`: it was not before."""

    sha256: str
    copied: bool


class NotSent(Exception):
    """A picture that is not there; the message says why, for people."""


class Folder(Protocol):
    """Names are relative to it. Raises what the place raises, DuskhandError('hand-over-failed') for documents."""

    where: str
    """For people."""

    renames: bool
    """Whether pictures get names of the hand-over's own, or keep the rig's."""

    def earlier(self, shoot: str) -> str | None:
        """The pattern of an earlier run of this shoot that is there; None where there is none."""
        ...

    async def open(self, marker: bytes, hold: int) -> None:
        """Have it there, and hold so many bytes back for the documents. Raises BadInput where something else is there:
        the document MARKER tells hand-overs apart."""
        ...

    async def picture(self, name: str, file: dict[str, Any], frame: Frame, *, send: bool) -> Sent:
        """One file of a frame, as `controller.copying` is told of it. Raises NotSent, and NoRoom; without `send` that
        where it is not there already."""
        ...

    def part(self, name: str) -> Path:
        """Where to write a document until it is `put`."""
        ...

    async def put(self, name: str, *, keep_theirs: bool = False) -> str | None:
        """Give what was written its name; its SHA-256. None where another has changed the one that is there, and it
        stays with `keep_theirs`; without, that one is kept under another name."""
        ...

    async def drop(self, name: str) -> None:
        """Have no such document any more, where it is one that a hand-over wrote."""
        ...

    async def room_again(self) -> None:
        """Let go of what was held back: documents follow."""
        ...

    async def close(self) -> None: ...


async def sent(process: PlaceProcess, file: dict[str, Any], where: str) -> Sent:
    """Have one picture in a place by its process. Raises NotSent, NoRoom, DuskhandError('hand-over-failed')."""
    for again in (True, False):
        try:
            answer = await process.ask(do="put", files=[file])
        except CopyError as error:
            if error.code == "place-full":
                raise NoRoom from None
            if error.file or (error.code == "copy-damaged" and not again):
                raise NotSent(error.what) from None
            if error.code != "copy-damaged":
                raise place_failed(error, where) from error
        else:
            return Sent(str(answer["sums"][0]), bool(answer["sent"][0]))
    raise AssertionError("told above")


def failed(what: str, where: str, remedy: str = _SPACE) -> DuskhandError:
    """A document could not be written, or the folder cannot be used any more; `remedy`: what to do first."""
    remedy = f"{remedy}, then run the same command again: what is there is not copied again"
    return DuskhandError("hand-over-failed", what, where, remedy, True)


def disk_failed(error: OSError, where: str) -> DuskhandError:
    """The same, with the remedy for what a disk answers."""
    remedy = _SPACE if error.errno in FULL else "Look at the disk and its cable"
    if error.errno in _RIGHTS:
        remedy = "Let this user write there"
    return failed(f"cannot be written: {error.strerror or error}", where, remedy)


def place_failed(error: CopyError, where: str) -> DuskhandError:
    """The same, with the remedy for what a second place answers."""
    remedy = _BY_PLACE.get(error.code, error.remedy)
    if remedy == BY_ITSELF:
        remedy = "Look whether it is switched on and the network leads there"
    return failed(error.what, where, remedy)


@contextmanager
def writing(folder: Folder, name: str) -> Iterator[None]:
    """While inside, what fails is told as a document of this name that could not be written."""
    try:
        yield
    except OSError as error:
        raise disk_failed(error, f"{folder.where}/{name}") from error
