"""A small disk of its own: an ext4 file system in a file, mounted by a loop device, whose power can be cut.

What a cut is here: the file system stops in the middle of what it does (`EXT4_IOC_SHUTDOWN` without a flush of its
journal, as its own developers test it: xfstests, src/godown.c). What the kernel had handed to the device is there, what
was still in its memory is lost, and every later write fails. Not shown is what a device loses that says it has written
and has not.
"""

from __future__ import annotations

import contextlib
import ctypes
import fcntl
import os
import struct
import subprocess
import time
from pathlib import Path

EXT4_IOC_SHUTDOWN = 0x8004587D  # linux, fs/ext4/ext4.h: _IOR('X', 125, __u32)
NO_LOG_FLUSH = 2  # the same: EXT4_GOING_FLAGS_NOLOGFLUSH
CLONE_NEWNS = 0x20000  # linux/sched.h

_BUSY_S = 20.0


def alone() -> None:
    """Put this process into a mount namespace of its own, so that what it mounts ends with it. Raises OSError."""
    if ctypes.CDLL(None, use_errno=True).unshare(CLONE_NEWNS):
        raise OSError(ctypes.get_errno(), "no mount namespace of its own")
    _run("mount", "--make-rprivate", "/")


class LoopDisk:
    """Mounted at `directory`, its file beside that."""

    def __init__(self, directory: Path, megabytes: int = 96) -> None:
        """Raises OSError where this machine has no loop mounts for this user."""
        self.directory = directory
        self._image = directory.with_suffix(".img")
        with self._image.open("wb") as file:
            file.truncate(megabytes << 20)
        _run("mkfs.ext4", "-q", "-F", str(self._image))
        directory.mkdir()
        self.mount()

    def mount(self) -> None:
        _run("mount", "-o", "loop,errors=remount-ro", str(self._image), str(self.directory))

    def cut(self) -> None:
        """Nothing more reaches the disk, and nothing comes from it."""
        root = os.open(self.directory, os.O_RDONLY | os.O_DIRECTORY)
        try:
            fcntl.ioctl(root, EXT4_IOC_SHUTDOWN, struct.pack("I", NO_LOG_FLUSH))
        finally:
            os.close(root)

    def read_only(self) -> None:
        """What ext4 does at an error of its own: no more writes, to files that are open neither. Raises OSError."""
        device = _run("findmnt", "--noheadings", "--output=SOURCE", str(self.directory)).strip()
        Path(f"/sys/fs/ext4/{Path(device).name}/trigger_fs_error").write_text("by a test")

    def unmount(self) -> None:
        """Once those who used it are gone, which may take a moment."""
        ends = time.monotonic() + _BUSY_S
        while True:
            try:
                _run("umount", str(self.directory))
                return
            except OSError:
                if time.monotonic() > ends:
                    raise
            time.sleep(0.05)

    def power_again(self) -> None:
        """After a cut: what a machine does that starts; check the file system, and mount it. Raises OSError."""
        self.unmount()
        _run("e2fsck", "-p", str(self._image), well=(0, 1))
        self.mount()


def why_not(directory: Path) -> str | None:
    """Why there is no such disk on this machine; None where there is. Call it in a process that is `alone`."""
    try:
        disk = LoopDisk(directory / "trial", 16)
    except OSError as error:
        return f"no loop-mounted ext4 for this user: {error}"
    try:
        disk.cut()
        disk.power_again()
    except OSError as error:
        return f"the file system cannot be stopped: {error}"
    finally:
        with contextlib.suppress(OSError):
            disk.unmount()
    return None


def _run(*command: str, well: tuple[int, ...] = (0,)) -> str:
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    except FileNotFoundError as error:
        raise OSError(f"{command[0]} is not installed") from error
    if done.returncode not in well:
        raise OSError(f"{command[0]}: {(done.stderr or done.stdout).strip() or done.returncode}")
    return done.stdout
