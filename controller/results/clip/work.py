"""The work directory of a clip, beside it while it is being made: what a killed or interrupted make goes on from.

The film is made in parts of a few seconds. Each is named by a digest of all that went into it, so that a part is right
if it is there: other options, changed files or a newer library give other names. What no name asks for is cleared away.
"""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import json
import os
import shutil
from collections.abc import Collection, Iterator
from pathlib import Path
from types import TracebackType
from typing import Any

import av
from pydantic import Field, ValidationError

from controller.results.clip.film import failed
from controller.words.documents import Document
from controller.words.errors import Conflict

_FORMAT = 2  # raise it where the same recipe is to give another film
LOOKS = "looks.sqlite3"
_UNFINISHED = "unfinished"


class Part(Document):
    """What a finished part shows."""

    frames: int
    levels: list[float] = Field(description="log2 of the mean luminance of each frame")
    before: list[float] = Field(description="of the same pixels as they were")
    shown: list[int] = Field(description="places of the pictures that can be seen, in order")
    lost: dict[int, str] = Field(description="pictures that could not be drawn, by place, and why")


class Unfinished(Document):
    """A film that ends early for want of room, as it was left, and the names of its parts in order."""

    out: Path
    bytes: int
    mtime_ns: int
    parts: list[str]


class Work:
    """A context that holds the directory for one process. Raises Conflict('clip-busy')."""

    def __init__(self, out: Path) -> None:
        self.directory = out.with_name(f".{out.name}.work")
        self._out = out
        self._lock = -1

    def __enter__(self) -> Work:
        with self._told():
            self.directory.mkdir(exist_ok=True)
            self._lock = os.open(self.directory, os.O_RDONLY | os.O_DIRECTORY)
        try:
            fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(self._lock)
            what, remedy = "this clip is being made already", "Wait until it is done, or choose another file with --out"
            raise Conflict("clip-busy", what, str(self._out), remedy) from None
        for left in self.directory.glob(".*.part"):  # of a make that was killed
            left.unlink(missing_ok=True)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with contextlib.suppress(OSError):
            self.directory.rmdir()  # where there is nothing to go on from
        os.close(self._lock)

    def film(self, name: str) -> Path:
        """Where the part of this name lies, or will."""
        return self.directory / f"{name}.mp4"

    def find(self, name: str) -> Part | None:
        """The part of this name, if it was finished."""
        try:
            if self.film(name).stat().st_size > 0:
                return Part.model_validate_json((self.directory / f"{name}.json").read_bytes())
        except (OSError, ValidationError):
            return None
        return None

    def note(self, name: str, part: Part) -> None:
        """To be called before the film itself takes its place. Raises DuskhandError('clip-failed')."""
        with self._told(), (self.directory / f"{name}.json").open("w") as file:
            file.write(part.model_dump_json())
            file.flush()
            os.fsync(file.fileno())

    def keep_unfinished(self, out: Path, parts: list[str]) -> None:
        """So that the next try knows it as its own. Where the disk has no room for this either, it does not."""
        with contextlib.suppress(OSError):
            stat = out.stat()
            told = Unfinished(out=out, bytes=stat.st_size, mtime_ns=stat.st_mtime_ns, parts=parts)
            (self.directory / _UNFINISHED).write_text(told.model_dump_json())

    def unfinished(self) -> Unfinished | None:
        """The film that an earlier try left, if it still stands."""
        try:
            told = Unfinished.model_validate_json((self.directory / _UNFINISHED).read_bytes())
            stat = told.out.stat()
        except (OSError, ValidationError):
            return None
        return told if (stat.st_size, stat.st_mtime_ns) == (told.bytes, told.mtime_ns) else None

    def clear(self, wanted: Collection[str]) -> None:
        """Parts that a change of options or pictures has made useless go."""
        for path in self.directory.iterdir():
            if path.suffix in (".mp4", ".json") and path.stem not in wanted:
                path.unlink(missing_ok=True)

    def remove(self) -> None:
        """The film is done."""
        shutil.rmtree(self.directory, ignore_errors=True)

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise failed(error, self.directory) from error


def digest(recipe: Any) -> str:
    """A name for all that a part is made from: what JSON can hold."""
    libraries = {name: list(version) for name, version in av.library_versions.items()}
    text = json.dumps([_FORMAT, libraries, recipe], separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:32]
