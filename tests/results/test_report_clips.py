"""Films beside a shoot's pictures: what is told of each, however little, or wrong, stands beside it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from controller.results.flicker import flicker
from controller.results.report.clips import clips
from controller.results.report.make import report
from controller.results.report.text import WIDTH, render
from controller.words.layout import clip_path, clips_directory
from tests.results.dusk import SHOOT, shoot, slots

FLICKER = flicker([0.0, 0.1, 0.0, 0.1])
TOLD: dict[str, Any] = {"frames": 4, "duration_s": 0.16, "fps": 25, "width": 96, "height": 64, "steadied": True}


def film(path: Path, beside: str | None = None, ending: str = ".json") -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(b"not a film")
    if beside is not None:
        path.with_suffix(ending).write_text(beside)


def test_each_is_told_with_what_is_known_of_it(tmp_path: Path) -> None:
    assert FLICKER is not None
    figures = {"before": FLICKER.model_dump(), "after": FLICKER.model_dump(), "gaps": [], "out": "x"}
    own, others = tmp_path / clip_path(SHOOT), tmp_path / clips_directory(SHOOT)
    film(own, json.dumps(TOLD | figures))
    film(tmp_path / clip_path(SHOOT, "camera-2"), "[1, 2]")
    film(others / "day-1.mp4", json.dumps({"frames": 7, "duration_s": 0.28, "state": "ready"}), ".clip.json")
    film(others / "day-2.mp4", '{"frames": "many"}')
    film(others / "day-3.mp4", "{")
    film(others / ".half.mp4")
    (tmp_path / "shoots" / SHOOT / "previews").mkdir()
    found = {each.path.removeprefix(f"shoots/{SHOOT}/"): each for each in clips(tmp_path, SHOOT)}
    names = [f"{SHOOT}.mp4", f"camera-2/{SHOOT}.mp4", "clips/day-1.mp4", "clips/day-2.mp4", "clips/day-3.mp4"]
    assert sorted(found) == sorted(names)
    first = found[f"{SHOOT}.mp4"]
    assert (first.before, first.after, first.width, first.steadied, first.bytes) == (FLICKER, FLICKER, 96, True, 10)
    at = f"/api/v1/shoots/{SHOOT}/clips"
    assert first.url == f"{at}/{SHOOT}.mp4"
    assert found[f"camera-2/{SHOOT}.mp4"].url == f"{at}/camera-2-{SHOOT}.mp4"
    assert (found["clips/day-1.mp4"].frames, found["clips/day-1.mp4"].duration_s) == (7, 0.28)
    assert found["clips/day-1.mp4"].url == f"{at}/day-1.mp4"
    assert found["clips/day-2.mp4"].frames is None
    text = render(report(shoot(slots()), slots(), [], clips=list(found.values())))
    assert "rms, at most 0.100, second 0.200, pictures of" in text
    assert max(len(line) for line in text.splitlines()) <= WIDTH


@pytest.mark.parametrize("there", [False, True])
def test_none_where_none_was_made(tmp_path: Path, there: bool) -> None:
    if there:
        (tmp_path / clips_directory(SHOOT)).mkdir(parents=True)
    assert clips(tmp_path, SHOOT) == []
