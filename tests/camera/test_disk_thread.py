"""The thread that takes files to the disk goes on, whatever becomes of one of them."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from controller.camera.worker import disk as disk_module
from controller.camera.worker.disk import Copy, Disk


def copied(disk: Disk, path: Path) -> Copy:
    copy = Copy(disk, path, 3)
    copy.write(b"abc")
    copy.finish()
    return copy


@pytest.mark.parametrize("fault", [OSError(errno.EIO, "I/O error"), MemoryError("no memory")])
def test_a_disk_that_fails_over_one_file_is_asked_for_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    """A write that fails, and the closing of the file after it, as over a line to a disk that was cut."""
    write, close = os.write, os.close
    left = {"write": 1, "close": 1}

    def refuse(what: str) -> None:
        if left[what]:
            left[what] -= 1
            raise fault if what == "write" else OSError(errno.EIO, "I/O error")

    def failing_write(descriptor: int, data: bytes) -> int:
        refuse("write")
        return write(descriptor, data)

    def failing_close(descriptor: int) -> None:
        close(descriptor)
        refuse("close")

    monkeypatch.setattr(disk_module.os, "write", failing_write)
    monkeypatch.setattr(disk_module.os, "close", failing_close)
    disk = Disk()
    first, second = copied(disk, tmp_path / "1.jpg"), copied(disk, tmp_path / "2.jpg")
    disk.stop(30)
    monkeypatch.undo()
    assert first.error is not None
    assert str(fault.args[-1]) in str(first.error)
    assert (second.error, (tmp_path / "2.jpg").read_bytes()) == (None, b"abc")
    assert [path.name for path in tmp_path.iterdir()] == ["2.jpg"]


def test_a_fault_of_ours_ends_no_copies(tmp_path: Path) -> None:
    disk = Disk()
    disk.do(lambda: 1 / 0)
    second = copied(disk, tmp_path / "2.jpg")
    disk.stop(30)
    assert second.sha256 is not None
