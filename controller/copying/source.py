"""The file on the rig, read once and held against the log while it is."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from controller.words.errors import CopyError

_REMEDY = "It is not copied. Fetch it from the card by hand"


class Source:
    """`size` None where the log has only the sum of a pair's files; `sha256` is what the log has."""

    def __init__(self, path: Path, size: int | None, sha256: str) -> None:
        self.path, self.sha256 = path, sha256
        try:
            self.size = path.stat().st_size
        except OSError as error:
            raise _wrong(f"cannot be read on the rig: {error.strerror}", path) from error
        if size is not None and size != self.size:
            raise _wrong(f"has {self.size} bytes on the rig instead of {size}", path)

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


def _wrong(what: str, path: Path) -> CopyError:
    return CopyError("rig-file-damaged", what, str(path), _REMEDY, file=True)
