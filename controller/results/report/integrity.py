"""Are the fetched files on the rig's disk what the log says that they are?"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from pydantic import Field

from controller.words.documents import Document, Frame
from controller.words.times import Utc

_CHUNK = 1 << 20


LISTED = 1000
"""Damaged files that are named."""


class Damage(Document):
    seq: int
    local_file: str
    fault: str


class Integrity(Document):
    """Every fetched file that is still on the rig, compared with size and SHA-256 in the log."""

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
        found.checked += 1
        fault = _fault(self._directory, frame)
        if fault is None:
            found.whole += 1
        elif len(found.damaged) < LISTED:
            found.damaged.append(Damage(seq=frame.seq, local_file=frame.local_file, fault=fault))

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


def _fault(directory: Path, frame: Frame) -> str | None:
    path = directory / (frame.local_file or "")
    digest = hashlib.sha256()
    size = 0
    try:
        with path.open("rb") as file:
            while chunk := file.read(_CHUNK):
                digest.update(chunk)
                size += len(chunk)
    except FileNotFoundError:
        return "the file is missing"
    except OSError as error:
        return f"the file cannot be read: {error.strerror}"
    if frame.companion_file is not None:
        second = path.with_suffix(Path(frame.companion_file).suffix)
        try:
            size += second.stat().st_size
        except OSError:
            return f"the second file of the pair, {second.name}, is missing"
    if frame.bytes is not None and size != frame.bytes:
        of = "the file has" if frame.companion_file is None else "the pair's files have"
        return f"{of} {size} bytes instead of {frame.bytes}"
    if frame.sha256 is not None and digest.hexdigest() != frame.sha256:
        return "the checksum differs"
    if frame.companion_file is not None and frame.companion_sha256 is not None:
        return _second_fault(path.with_suffix(Path(frame.companion_file).suffix), frame.companion_sha256)
    return None


def _second_fault(path: Path, sha256: str) -> str | None:
    try:
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        return f"the second file of the pair, {path.name}, cannot be read: {error.strerror}"
    return None if digest == sha256 else f"the checksum of the second file of the pair, {path.name}, differs"
