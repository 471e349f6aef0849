"""Starts under which something fails that no shoot needs: the rig comes up all the same, and tells."""

from __future__ import annotations

import errno
import tempfile
from pathlib import Path

import pytest

from controller import daemon
from controller.camera.detect import detect
from controller.words.errors import CameraError, StoreError
from tests.api.conftest import NOWHERE
from tests.support.rigs import Evening


async def test_a_search_that_finds_no_room_for_its_settings_is_no_more_than_a_failed_search(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A rig that is started on a full disk, and was told of no camera: it goes on with the first one on USB."""

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(tempfile, "TemporaryDirectory", full)
    with pytest.raises(CameraError, match="No space left on device"):
        await detect()


async def test_a_log_that_takes_nothing_keeps_no_rig_from_coming_up_after_a_power_cut(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with Evening().rig(tmp_path, NOWHERE):
        pass
    (tmp_path / "rig/frames.sqlite3-wal").touch()

    async def full(*_: object) -> None:
        raise StoreError("disk-full", "the disk is full, the frame log cannot grow")

    monkeypatch.setattr(daemon, "check_copies", full)
    async with Evening().rig(tmp_path, NOWHERE) as rig:
        told = (await rig.now()).attention
    assert [text for text in told if "not looked at" in text and "the disk is full" in text]
