"""A second place that is a directory: a disk that is mounted, or a share."""

from __future__ import annotations

import asyncio
import errno
import os
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any, TypeVar

from controller.copying.far import PART, PIECE, Progress, Room, Sent, away, failed, full, refused
from controller.copying.pace import Pace
from controller.copying.source import Source
from controller.words.errors import CopyError
from controller.words.no_room import FULL
from controller.words.synced import sync_directory

T = TypeVar("T")

_GONE = (errno.ENOENT, errno.ENOTDIR, errno.EIO, errno.ENODEV, errno.ESTALE, errno.ENXIO, errno.EHOSTDOWN)


class Directory:
    """Implements far.Far. Raises CopyError where the directory is not there, or is not the disk that was meant."""

    def __init__(self, path: str, rig: Path, pace: Pace, progress: Progress, *, own_disk: bool) -> None:
        self._path, self._pace, self._progress = Path(path), pace, progress
        self._there: set[Path] = set()
        try:
            device = self._path.stat().st_dev
            if not self._path.is_dir():
                raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
            self._elsewhere = device != rig.stat().st_dev
        except OSError as error:
            raise away(f"{path} is not there: {error.strerror}", "Connect the disk and mount it") from error
        if not self._elsewhere and not own_disk:
            what = f"{path} lies on the rig's own disk: nothing is mounted there"
            raise away(what, "Mount the disk there, or write own_disk = true into places.toml")
        self._device = device
        self._where = f"disk {os.major(device)}:{os.minor(device)}"

    async def room(self) -> Room:
        stat = _do(os.statvfs, self._path)
        return Room(self._where, self._elsewhere, stat.f_bavail * stat.f_frsize)

    async def size(self, name: str) -> int | None:
        try:
            return (self._path / name).stat().st_size
        except (FileNotFoundError, NotADirectoryError):
            return None
        except OSError as error:
            raise _told(error) from error

    async def read(self, name: str) -> AsyncIterator[bytes]:
        try:
            with (self._path / name).open("rb", buffering=0) as file:
                self._same_disk(file.fileno())
                os.fsync(file.fileno())
                os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)  # the disk is asked, not the memory
                while piece := file.read(PIECE):
                    yield piece
                    await self._took(len(piece))
        except OSError as error:
            raise _told(error) from error

    async def send(self, name: str, source: Source) -> Sent:
        path = self._path / (name + PART)
        _do(self._make, path.parent)
        try:
            descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_CLOEXEC, 0o644)
            try:
                self._same_disk(descriptor)
                begin = min(os.fstat(descriptor).st_size, source.size)
                os.ftruncate(descriptor, begin)
                os.lseek(descriptor, begin, os.SEEK_SET)
                for piece in source.pieces(PIECE, begin):
                    left = memoryview(piece)
                    while left:
                        left = left[os.write(descriptor, left) :]
                    await self._took(len(piece))
                os.fsync(descriptor)
            finally:
                os.close(descriptor)
        except OSError as error:
            raise _told(error) from error
        return Sent(name + PART)

    async def discard(self, name: str) -> None:
        path = self._path / (name + PART)
        _do(path.unlink, True)

    async def put_name(self, sent: Sent, name: str) -> None:
        _do(self._rename, sent.name, name)

    async def set_aside(self, name: str, other: str) -> None:
        _do(self._rename, name, other)

    async def close(self) -> None:
        pass

    # ---- on the disk

    async def _took(self, size: int) -> None:
        self._progress(size)
        await asyncio.sleep(self._pace.wait_s(size))

    def _same_disk(self, descriptor: int) -> None:
        """A disk that was taken away leaves a directory behind, on the rig's own."""
        if os.fstat(descriptor).st_dev != self._device:
            raise away(f"{self._path} is another disk than a moment ago", "Connect the disk and mount it")

    def _make(self, directory: Path) -> None:
        """A directory, so that a power cut leaves it."""
        if directory in self._there:
            return
        missing = [d for d in (directory, *directory.parents) if d.is_relative_to(self._path) and not d.exists()]
        directory.mkdir(parents=True, exist_ok=True)
        for made in missing:
            sync_directory(made.parent)
        self._there.add(directory)

    def _rename(self, name: str, other: str) -> None:
        if (self._path / other).exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), other)
        (self._path / name).rename(self._path / other)
        sync_directory((self._path / other).parent)


def _do(call: Callable[..., T], *args: Any) -> T:
    try:
        return call(*args)
    except OSError as error:
        raise _told(error) from error


def _told(error: OSError) -> CopyError:
    if error.errno in FULL:
        return full()
    if error.errno in _GONE:
        return away(f"the disk does not answer: {error.strerror}", "Look at the disk and its cable")
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return refused(f"it cannot be written: {error.strerror}", "Let the service's user write there")
    return failed(error.strerror or str(error))
