"""What the demo leaves behind once its evening is shot."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.commands import main
from controller.commands.demo import _aftermath
from controller.words.layout import clip_path
from tests.commands.test_clip import fill, shown
from tests.results.dusk import SHOOT
from tests.results.nights import dusk


def test_its_clip_is_where_report_and_hand_over_look_for_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rig, there = tmp_path / "rig", tmp_path / "there"
    fill(rig, dusk(12).save(rig, (160, 108)))
    assert _aftermath(rig, SHOOT) == 0
    told = capsys.readouterr().out
    clip, report = rig / clip_path(SHOOT), rig / f"{SHOOT}-report.txt"
    assert f"The clip: {clip}\nThe report: {report}\n" in told
    assert shown(clip) == 12
    assert f"{SHOOT}.mp4" in report.read_text()
    assert report.read_text() in told
    assert f"{SHOOT}.mp4" in (rig / f"{SHOOT}-report.html").read_text()
    assert main(["hand-over", SHOOT, "--to", str(there), "--dir", str(rig)]) == 0
    assert "make the clip first" not in capsys.readouterr().out
    assert list(there.rglob("*.mp4"))
