"""Are the fetched files on the rig's disk what the log says that they are?"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from pathlib import Path

from pydantic import Field

from controller.words.documents import Document, Frame

_CHUNK = 1 << 20


class Damage(Document):
    seq: int
    local_file: str
    fault: str


class Integrity(Document):
    """Every fetched file that is still on the rig, compared with size and SHA-256 in the log."""

    checked: int
    whole: int
    damaged: list[Damage]
    freed: int = Field(0, description="frames whose files were deleted from the rig by the plan's rule, once copied")


def verify(
    directory: Path, frames: Iterable[Frame], progress: Callable[[int, int], None] = lambda done, of: None
) -> Integrity:
    """Read every file that the log names, below the rig's `directory`; `progress(done, of)` after each."""
    known = [frame for frame in frames if frame.local_file is not None]
    fetched = [frame for frame in known if frame.rig_freed_utc is None]
    damaged = []
    for number, frame in enumerate(fetched, 1):
        fault = _fault(directory, frame)
        if fault is not None:
            damaged.append(Damage(seq=frame.seq, local_file=frame.local_file or "", fault=fault))
        progress(number, len(fetched))
    whole, freed = len(fetched) - len(damaged), len(known) - len(fetched)
    return Integrity(checked=len(fetched), whole=whole, damaged=damaged, freed=freed)


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
