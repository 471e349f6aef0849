"""Are the fetched files on the rig's disk what the log says that they are?"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from pathlib import Path

from controller.words.documents import Document, Frame

_CHUNK = 1 << 20


class Damage(Document):
    seq: int
    local_file: str
    fault: str


class Integrity(Document):
    """Every fetched file, compared with size and SHA-256 in the log."""

    checked: int
    whole: int
    damaged: list[Damage]


def verify(
    directory: Path, frames: Iterable[Frame], progress: Callable[[int, int], None] = lambda done, of: None
) -> Integrity:
    """Read every file that the log names, below the rig's `directory`; `progress(done, of)` after each."""
    fetched = [frame for frame in frames if frame.local_file is not None]
    damaged = []
    for number, frame in enumerate(fetched, 1):
        fault = _fault(directory, frame)
        if fault is not None:
            damaged.append(Damage(seq=frame.seq, local_file=frame.local_file or "", fault=fault))
        progress(number, len(fetched))
    return Integrity(checked=len(fetched), whole=len(fetched) - len(damaged), damaged=damaged)


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
    return None
