"""The file on the rig, read once and held against the log while it is."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from controller.words.errors import CopyError

_REMEDY = "It is not copied. Fetch it from the card by hand"


class Source:
    """`size` is None where the log has a pair's sum alone, `sha256` where the log has lost it: then what the
    file is now counts."""

    def __init__(self, path: Path, size: int | None, sha256: str | None) -> None:
        self.path = path
        try:
            self.size = path.stat().st_size
        except OSError as error:
            raise _wrong(f"cannot be read on the rig: {error.strerror}", path) from error
        if size is not None and size != self.size:
            raise _wrong(f"has {self.size} bytes on the rig instead of {size}", path)
        self.sha256 = sha256 if sha256 is not None else _digest(path)

    def pieces(self, size: int, begin: int = 0) -> Iterator[bytes]:
        """From `begin` on, in pieces of this size; what stands before it is read too.

        Raises CopyError after the last piece where the file is not what the log says, so that nobody names the copy.
        """
        digest, read = hashlib.sha256(), 0
        try:
            with self.path.open("rb") as file:
                while read < begin:
                    before = file.read(min(1 << 20, begin - read))
                    if not before:
                        break
                    digest.update(before)
                    read += len(before)
                while piece := file.read(size):
                    digest.update(piece)
                    read += len(piece)
                    yield piece
                os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)  # nobody reads it again soon
        except OSError as error:
            raise _wrong(f"cannot be read on the rig: {error.strerror}", self.path) from error
        if digest.hexdigest() != self.sha256:
            raise _wrong("differs on the rig from its checksum in the log", self.path)

    def whole(self) -> None:
        """Read all of it. Raises CopyError where it is not what the log says."""
        for _ in self.pieces(1 << 20):
            pass


def _digest(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise _wrong(f"cannot be read on the rig: {error.strerror}", path) from error


def _wrong(what: str, path: Path) -> CopyError:
    return CopyError("rig-file-damaged", what, str(path), _REMEDY, file=True)
