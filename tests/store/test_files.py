from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from controller.store import files
from controller.words.errors import StoreError


def test_paths() -> None:
    late = 1_796_169_599.9  # 2026-12-01T23:59:59.9Z
    assert files.frame_directory("s", late) == Path("shoots/s/2026-12-01")
    assert files.frame_directory("s", late + 1) == Path("shoots/s/2026-12-02")
    assert files.frame_stem(12) == "000012"
    assert files.preview_path("s", 12) == Path("shoots/s/previews/000012.jpg")


def test_a_file_is_replaced_whole(tmp_path: Path) -> None:
    path = tmp_path / "a" / "b" / "p.jpg"
    files.write_atomic(path, b"one")
    files.write_atomic(path, b"two")
    assert path.read_bytes() == b"two"
    assert [each.name for each in path.parent.iterdir()] == ["p.jpg"]


def test_order_of_a_write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """fsync of the file, then rename, then fsync of the directory: POSIX promises nothing without all three."""
    steps: list[str] = []
    fsync, replace = os.fsync, Path.replace

    def watch_fsync(handle: int) -> None:
        steps.append("fsync " + Path(f"/proc/self/fd/{handle}").readlink().name)
        fsync(handle)

    def watch_replace(self: Path, target: Path) -> Path:
        steps.append(f"rename {self.name} {target.name}")
        return replace(self, target)

    monkeypatch.setattr(os, "fsync", watch_fsync)
    monkeypatch.setattr(Path, "replace", watch_replace)
    files.write_atomic(tmp_path / "dir" / "p.jpg", b"x")
    assert steps == ["fsync p.jpg.part", "rename p.jpg.part p.jpg", "fsync dir"]


def test_a_failed_write_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "p.jpg"
    files.write_atomic(path, b"old")
    (tmp_path / "p.jpg.part").mkdir()  # the temporary file cannot be opened
    with pytest.raises(StoreError) as caught:
        files.write_atomic(path, b"new")
    assert caught.value.code == "file-not-written"
    assert path.read_bytes() == b"old"


def test_room(tmp_path: Path) -> None:
    free, whole = files.room(tmp_path / "not" / "there")
    usage = shutil.disk_usage(tmp_path)
    assert free == pytest.approx(usage.free, abs=64e6)
    assert whole == usage.total
