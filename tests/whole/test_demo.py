"""The demo as a user starts it, for as long as its first frames take."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.commands import main


@pytest.mark.parametrize("rate", ["5", "60"])
def test_its_first_frame_is_exposed_for_the_light_that_there_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], rate: str
) -> None:
    """Test frames want some seconds of the wall ahead of the first slot, however fast the evening runs."""
    start = ["demo", "--dir", str(tmp_path), "--frames", "2", "--rate", rate, "--port", "0", "--no-browser"]
    assert main(start) == 0
    told = capsys.readouterr().out
    assert "before the window: the scene is" in told
    assert "2 frames  all" in told
