"""Are the fetched files on the rig's disk what the log says that they are?"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from pydantic import Field

from controller.words.documents import Document, Frame
from controller.words.times import Utc

LISTED = 1000
"""Damaged files that are named."""


class Damage(Document):
    seq: int
    local_file: str
    fault: str


class Integrity(Document):
    """Every fetched file that is still on the rig, both of a pair, compared with size and SHA-256 in the log."""

    verified_utc: Utc | None = Field(None, description="when the files were read")
    checked: int
    whole: int
    damaged: list[Damage] = Field(description="the first 1000")
    freed: int = Field(0, description="frames whose files were deleted from the rig by the plan's rule, once copied")


class Verifier:
    """Takes frames, and reads every file that the log names, below the rig's `directory`."""

    def __init__(self, directory: Path) -> None:
        self._directory = directory
        self._found = Integrity(checked=0, whole=0, damaged=[])

    def __call__(self, frame: Frame) -> None:
        found = self._found
        if frame.local_file is None:
            return
        if frame.rig_freed_utc is not None:
            found.freed += 1
            return
        for name, fault in _faults(self._directory, frame, frame.local_file):
            found.checked += 1
            if fault is None:
                found.whole += 1
            elif len(found.damaged) < LISTED:
                found.damaged.append(Damage(seq=frame.seq, local_file=name, fault=fault))

    def integrity(self, utc: float | None = None) -> Integrity:
        """What was found, as of `utc`."""
        return self._found.model_copy(update={"verified_utc": utc})


def verify(directory: Path, frames: Iterable[Frame]) -> Integrity:
    """The same of all these frames."""
    take = Verifier(directory)
    for frame in frames:
        take(frame)
    return take.integrity()


def kept(path: Path) -> Integrity | None:
    """What was found when the files were last read; None where that was never kept, or cannot be read."""
    try:
        return Integrity.model_validate_json(path.read_bytes())
    except (OSError, ValueError):
        return None


def _faults(directory: Path, frame: Frame, local_file: str) -> Iterator[tuple[str, str | None]]:
    """Each file of a frame, and what is wrong with it. The log has the size of both files of a pair together."""
    if frame.companion_file is None:
        read = _read(directory / local_file)
        yield local_file, _told(read, frame.sha256, frame.bytes)
        return
    second = str(Path(local_file).with_suffix(Path(frame.companion_file).suffix))
    one, two = _read(directory / local_file), _read(directory / second)
    yield local_file, _told(one, frame.sha256, _rest(frame, two) if frame.sha256 is None else None)
    yield second, _told(two, frame.companion_sha256, _rest(frame, one) if frame.companion_sha256 is None else None)


@dataclass(frozen=True, slots=True)
class _Read:
    size: int
    sha256: str


def _read(path: Path) -> _Read | str:
    """What is in a file, or why it cannot be read."""
    try:
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
            return _Read(file.tell(), digest)
    except FileNotFoundError:
        return "the file is missing"
    except OSError as error:
        return f"the file cannot be read: {error.strerror}"


def _rest(frame: Frame, other: _Read | str) -> int | None:
    """Bytes of a pair that are not of the other file; None where that is not known."""
    return frame.bytes - other.size if frame.bytes is not None and isinstance(other, _Read) else None


def _told(read: _Read | str, sha256: str | None, size: int | None) -> str | None:
    """What is wrong; None where nothing is, as far as the log knows."""
    if isinstance(read, str):
        return read
    if size is not None and read.size != size:
        return f"the file has {read.size} bytes instead of {size}"
    return None if sha256 in (None, read.sha256) else "the checksum differs"
