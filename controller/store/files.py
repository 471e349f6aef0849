"""How files get into a rig's directory whole, where they lie, and how much room is left."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from controller.words.errors import StoreError
from controller.words.layout import (
    DATABASE,
    clip_path,
    database_path,
    frame_directory,
    frame_stem,
    frames_of_day,
    preview_path,
)
from controller.words.synced import sync_directory

__all__ = [
    "DATABASE",
    "clip_path",
    "database_path",
    "entries",
    "frame_directory",
    "frame_stem",
    "frames_of_day",
    "preview_path",
    "room",
    "write_atomic",
]


def room(directory: Path) -> tuple[int, int]:
    """Bytes that this user may still write on the disk that holds `directory`, and bytes of the whole disk."""
    found = directory
    while not found.exists() and found != found.parent:
        found = found.parent
    stat = os.statvfs(found)
    return stat.f_bavail * stat.f_frsize, stat.f_blocks * stat.f_frsize


def entries(folder: Path) -> list[os.DirEntry[str]]:
    """What lies in a folder; nothing where there is none. Raises OSError."""
    try:
        with os.scandir(folder) as found:
            return list(found)
    except (FileNotFoundError, NotADirectoryError):
        return []


def beside(path: Path, ending: str) -> Path:
    """A file that belongs to another and lies beside it, such as SQLite's `-wal`."""
    return path.with_name(path.name + ending)


def write_atomic(path: Path, content: bytes) -> None:
    """Write `path` so that after a power cut it is there whole or not at all. Raises StoreError."""
    temporary = beside(path, ".part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with temporary.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(path)
        sync_directory(path.parent)
    except OSError as error:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise StoreError(
            "file-not-written",
            error.strerror or str(error),
            str(path),
            "Free some space, or check the permissions",
            True,
        ) from error
