"""The memory card: a directory on disk, laid out by DCF (CIPA DC-009), that outlives the camera's process.

Handles are made from the names, so that they are the same in every session and nothing is kept in memory.
"""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

STORAGE_ID = 0x00010001
DCIM = 0x40000000
_FOLDER = 0x20000000
_SUFFIXES = {1: ".JPG", 2: ".DNG"}


class Full(Exception):
    """The card has no room for what was to be written."""


@dataclass(frozen=True)
class Entry:
    """One object on the card: a folder where `size` is None; `mtime` is by the camera's clock."""

    handle: int
    parent: int
    path: Path
    size: int | None = None
    mtime: float = 0.0


class Card:
    """`root` is created where it is not; `capacity` counts its files, `expected` is a frame's size, in bytes.

    Raises OSError where the directory cannot be made or written.
    """

    def __init__(self, root: Path, capacity: int, expected: int) -> None:
        self.root, self.capacity = root, capacity
        self._dcim = root / "DCIM"
        self._dcim.mkdir(parents=True, exist_ok=True)
        for folder in (root, self._dcim):  # a card that cannot be written is told now, not at the first frame
            with tempfile.TemporaryFile(dir=folder):
                pass
        self._counter = root / "counter"
        self._used = sum(e.size or 0 for e in self._files())
        self.fill = False
        last = max((e.handle >> 2 for e in self._files()), default=0)
        if self._counter.exists():
            last = max(last, int(self._counter.read_text()))
        self._last = last
        self._expected = expected

    def _files(self) -> Iterator[Entry]:
        for folder in self._folders():
            with os.scandir(folder.path) as found:
                for item in found:
                    handle = _handle_of(folder.path.name, item.name)
                    if handle:
                        found_stat = item.stat()
                        yield Entry(handle, folder.handle, Path(item.path), found_stat.st_size, found_stat.st_mtime)

    def _folders(self) -> Iterator[Entry]:
        for path in self._dcim.iterdir():
            if path.is_dir() and path.name[:3].isdigit():
                yield Entry(_FOLDER | int(path.name[:3]), DCIM, path)

    @property
    def free(self) -> int:
        """Bytes that can still be written: what the card has left, or the disk under it where that is less."""
        if self.fill:
            return 0
        return max(0, min(self.capacity - self._used, shutil.disk_usage(self.root).free))

    @property
    def free_images(self) -> int:
        return self.free // self._expected

    def next_number(self) -> int:
        """The next frame's number, counted on over every restart and every deletion."""
        self._last += 2 if self._last % 10000 == 9999 else 1  # DCF has no file 0000
        fresh = self._counter.with_suffix(".new")
        fresh.write_text(str(self._last))
        fresh.replace(self._counter)
        return self._last

    @staticmethod
    def handle(number: int, kind: int) -> int:
        """The handle of frame `number`'s file of `kind`: 1 JPEG, 2 raw."""
        return number << 2 | kind

    @staticmethod
    def name(handle: int) -> str:
        """The file name, without its folder, that belongs to a handle."""
        return f"DUSK{(handle >> 2) % 10000:04d}{_SUFFIXES[handle & 3]}"

    def path(self, handle: int) -> Path:
        number = handle >> 2
        return self._dcim / f"{100 + number // 10000:03d}DUSKH" / self.name(handle)

    def write(self, files: dict[int, bytes], mtime: float) -> None:
        """Put one frame's files, by handle, on the card: each whole, or none at all; raises Full."""
        total = sum(map(len, files.values()))
        if total > self.free:
            raise Full
        fresh = {handle: self.root / f"writing-{handle & 3}" for handle in files}
        try:
            for handle, data in files.items():
                fresh[handle].write_bytes(data)
                os.utime(fresh[handle], (mtime, mtime))
        except OSError as error:  # the disk under the card is full
            for path in fresh.values():
                path.unlink(missing_ok=True)
            if error.errno == errno.ENOSPC:
                raise Full from error
            raise
        for handle in files:
            path = self.path(handle)
            path.parent.mkdir(exist_ok=True)
            fresh[handle].replace(path)
        self._used += total
        self._expected = max(1, round(0.8 * self._expected + 0.2 * total))

    def find(self, handle: int) -> Entry | None:
        """The object behind a handle, or None."""
        if handle == DCIM:
            return Entry(DCIM, 0, self._dcim)
        if handle & _FOLDER and handle < DCIM:
            return next((f for f in self._folders() if f.handle == handle), None)
        if handle & 3 not in _SUFFIXES:
            return None
        path = self.path(handle)
        try:
            status = path.stat()
        except FileNotFoundError:
            return None
        return Entry(handle, _FOLDER | int(path.parent.name[:3]), path, status.st_size, status.st_mtime)

    def list(self, parent: int | None = None) -> list[Entry]:
        """The objects in one folder (0: at the root), or all of them, in the order of their handles."""
        everything = [Entry(DCIM, 0, self._dcim), *self._folders(), *self._files()]
        return sorted((e for e in everything if parent is None or e.parent == parent), key=lambda e: e.handle)

    def delete(self, entry: Entry) -> None:
        entry.path.unlink()
        self._used -= entry.size or 0


def _handle_of(folder: str, name: str) -> int | None:
    stem, dot, suffix = name.partition(".")
    kind = next((k for k, s in _SUFFIXES.items() if s == dot + suffix), None)
    if kind is None or not stem.startswith("DUSK") or not stem[4:].isdigit() or not folder[:3].isdigit():
        return None
    return ((int(folder[:3]) - 100) * 10000 + int(stem[4:])) << 2 | kind
