"""Where libgphoto2 keeps its own settings, which nothing locks, so that two processes must not share them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.camera.ear import connected
from tests.support.simcam import start_simulated_camera


async def test_each_camera_has_settings_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """libgphoto2 2.5.34 takes a settings file in the home of an older one's, where there is one, before any other."""
    home, ours = tmp_path / "home", tmp_path / "kept"
    (home / ".gphoto").mkdir(parents=True)
    older = home / ".gphoto" / "settings"
    older.write_text("ptp2=capturetarget=sdram\n")
    monkeypatch.setenv("HOME", str(home))
    with start_simulated_camera(tmp_path, maker="canon", epoch_utc="2026-10-20T16:20:00Z") as camera:
        async with connected(camera.address, settings=ours):
            assert camera.control("settings")["canon_target"] == 2  # the card
    assert older.read_text() == "ptp2=capturetarget=sdram\n"
    assert "capturetarget=card" in (ours / "gphoto" / "settings").read_text()
