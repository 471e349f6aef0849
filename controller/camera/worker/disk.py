"""Files on their way to the rig's disk, in a thread of their own: a sync may take seconds, a release cannot wait.

Order of writing: temporary file → fsync → rename → fsync of the directory. A crash leaves either nothing under the
final name or the whole file; the temporary file is written over when the file is fetched again.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import logging
import os
import queue
import threading
from collections.abc import Callable
from pathlib import Path

from controller.camera.worker.process import ordinary_priority
from controller.words.synced import sync_directory

log = logging.getLogger("camera")

RESERVE = 32 << 20
"""Bytes that fetching leaves free, so that the frame log and the system can go on writing."""

BROKEN = frozenset({errno.EIO, errno.EROFS})
"""Errors that no file is to blame for: the next one would fare no better."""


class Disk:
    """One thread that does what it is given, in order."""

    def __init__(self) -> None:
        self._work: queue.SimpleQueue[Callable[[], None] | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="disk", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        with contextlib.suppress(OSError):
            ordinary_priority()
        while (work := self._work.get()) is not None:
            try:
                work()
            except Exception:  # a fault with one file must not end the copies of all
                log.exception("a file on its way to the disk")

    def do(self, work: Callable[[], None]) -> None:
        self._work.put(work)

    def stop(self, wait_s: float) -> None:
        """Finish what is queued, waiting up to `wait_s` for it."""
        self._work.put(None)
        self._thread.join(wait_s)


class Copy:
    """One file being written. Its methods return at once; `error` and `sha256` tell what became of it."""

    def __init__(self, disk: Disk, path: Path, size: int) -> None:
        """`size` bytes are expected; 0 where the camera does not say."""
        self.path, self.size = path, size
        self.error: OSError | None = None
        self.sha256: str | None = None  # once the file is whole, verified and synced
        self.written = 0  # bytes, counted by the disk's thread
        self._sent = 0  # bytes, counted by the caller's
        self._temporary = path.with_name(f".{path.name}.part")
        self._disk = disk
        self._hash = hashlib.sha256()
        self._descriptor = -1
        self._queue(self._open)

    @property
    def waiting(self) -> int:
        """Bytes queued for the disk."""
        return self._sent - self.written

    def write(self, data: bytes | memoryview, owner: object = None) -> None:
        """Add bytes; `owner` is kept until they are written, for bytes that live only as long as it does."""
        self._sent += len(data)
        self._queue(lambda: self._write(data, owner))

    def finish(self) -> None:
        """All has been written: verify, sync, and give the file its name."""
        self._queue(self._finish)

    def abandon(self) -> None:
        """Take away what was written."""
        self._disk.do(self._abandon)

    # ---- in the disk's thread

    def _queue(self, work: Callable[[], None]) -> None:
        def guarded() -> None:
            if self.error is None:
                try:
                    work()
                except Exception as error:  # noqa: BLE001  whatever it was, somebody waits for this copy
                    self.error = error if isinstance(error, OSError) else OSError(f"{type(error).__name__}: {error}")
                    self._abandon()

        self._disk.do(guarded)

    def _open(self) -> None:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        room = os.statvfs(self.path.parent)
        if room.f_bavail * room.f_frsize < self.size + RESERVE:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(self.path.parent))
        self._descriptor = os.open(self._temporary, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, 0o644)

    def _write(self, data: bytes | memoryview, _owner: object) -> None:
        self._hash.update(data)
        left = memoryview(data)
        while left:
            left = left[os.write(self._descriptor, left) :]
        self.written += len(data)

    def _finish(self) -> None:
        if self.size and self.written != self.size:
            raise OSError(errno.EIO, f"{self.written} bytes came of {self.size}", str(self.path))
        os.fsync(self._descriptor)
        self._close()
        self._temporary.rename(self.path)
        sync_directory(self.path.parent)
        self.sha256 = self._hash.hexdigest()

    def _abandon(self) -> None:
        with contextlib.suppress(OSError):  # a disk that fails says so once more
            self._close()
        with contextlib.suppress(OSError):  # it may not be there at all, and is written over next time
            self._temporary.unlink()

    def _close(self) -> None:
        if self._descriptor >= 0:
            descriptor, self._descriptor = self._descriptor, -1
            os.close(descriptor)
