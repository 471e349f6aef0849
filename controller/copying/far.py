"""What a second place can do, whatever it is, and what can go wrong with any of them."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from controller.copying.source import Source
from controller.words.errors import CopyError

PIECE = 1 << 18
PART = ".part"
"""What a name ends in while its file is on its way."""

BY_ITSELF = "It is tried again by itself"

Progress = Callable[[int], None]


class Sent(NamedTuple):
    """Under which name a file lies until it is named, and whether the place's own checksum says that it came whole."""

    name: str
    vouched: bool = False


@dataclass(frozen=True, slots=True)
class Room:
    """`where` tells places apart that are one and the same underneath; `elsewhere`: not on the rig's own disk."""

    where: str
    elsewhere: bool
    free_bytes: int | None


class Far(Protocol):
    """A place, connected. Names are relative paths. Every call raises CopyError."""

    async def room(self) -> Room: ...

    async def size(self, name: str) -> int | None:
        """None where there is no such file."""
        ...

    def read(self, name: str) -> AsyncIterator[bytes]:
        """From the place itself, not from a cache on this side."""
        ...

    async def send(self, name: str, source: Source) -> Sent:
        """All of it, from where an interrupted sending got to; synced as well as the place can."""
        ...

    async def discard(self, name: str) -> None:
        """What was sent of this file and has not got its name yet."""
        ...

    async def put_name(self, sent: Sent, name: str) -> None:
        """Give it its name, under which nothing is."""
        ...

    async def set_aside(self, name: str, other: str) -> None:
        """Keep what is there under another name."""
        ...

    async def close(self) -> None: ...


def away(what: str, remedy: str = BY_ITSELF) -> CopyError:
    """It cannot be reached now."""
    return CopyError("place-away", what, remedy=remedy, retryable=True)


def refused(what: str, remedy: str) -> CopyError:
    """It will not have us, until a person has done something."""
    return CopyError("place-refused", what, remedy=remedy, retryable=True)


def full(what: str = "no room is left there") -> CopyError:
    return CopyError("place-full", what, remedy="Make room there; copies wait, and go on by themselves", retryable=True)


def failed(what: str) -> CopyError:
    """Anything else that it says."""
    return CopyError("place-failed", what, remedy="Look at the place; it is tried again by itself", retryable=True)
