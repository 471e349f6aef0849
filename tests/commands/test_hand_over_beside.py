"""What a hand-over puts beside the pictures: gains and sidecars, films, report, plan."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from controller.commands import main
from controller.results.clip.sidecar import FrameGain, write_gains_json
from controller.words.documents import ShootState
from controller.words.layout import clip_path, clips_directory
from tests.results.dusk import PLAN, SHOOT
from tests.results.handover_rig import fetched, fill, originals
from tests.results.nights import dusk
from tests.support.handed import LISTS, NAME, PICTURES, files, hand_over, rows, short_rig, sums_hold, told


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    return short_rig(tmp_path)


def test_without_the_library_for_parquet_the_rest_is_done(
    rig: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert hand_over(rig, tmp_path / "out") == 0
    assert "pip install '.[parquet]'" in capsys.readouterr().out
    assert files(tmp_path / "out") == PICTURES | LISTS - {"frames.parquet"}


def test_lists_alone(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert hand_over(rig, tmp_path / "out", "--no-files", "--name", "{camera_file}", "--json") == 0
    assert told(capsys)["pictures"] == 0
    assert files(tmp_path / "out") == LISTS
    assert [row["folder_file"] for row in rows(tmp_path / "out/frames.csv")][:2] == [
        "pictures/DSC_0001.JPG",
        "pictures/DSC_0002.JPG",
    ]


def test_films_that_are_there_come_along(rig: Path, tmp_path: Path) -> None:
    film, daily = rig / clip_path(SHOOT), rig / clips_directory(SHOOT) / "day-2026-12-01.mp4"
    daily.parent.mkdir()
    for path in (film, daily):
        path.write_bytes(b"a film, invented")
    assert hand_over(rig, tmp_path / "out") == 0
    assert (tmp_path / f"out/clips/{SHOOT}.mp4").read_bytes() == film.read_bytes()
    film.write_bytes(b"another film")
    assert hand_over(rig, tmp_path / "out") == 0
    assert files(tmp_path / "out/clips") == {f"{SHOOT}.mp4", "day-2026-12-01.mp4"}
    assert "\r\nclips/\r\n" in (tmp_path / "out/README.txt").read_bytes().decode()
    assert sums_hold(tmp_path / "out")


def test_the_report_and_the_plan_are_those_of_the_shoot(rig: Path, tmp_path: Path) -> None:
    assert hand_over(rig, tmp_path / "out") == 0
    assert tomllib.loads((tmp_path / "out/plan.toml").read_text()) == PLAN
    page = (tmp_path / "out/report.html").read_text("utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert "held, &quot;by hand&quot;" in page


def test_of_a_shoot_that_waits_it_says_so(tmp_path: Path) -> None:
    fill(tmp_path / "rig", [], state=ShootState.WAITING, started_utc=None, ended_utc=None)
    assert hand_over(tmp_path / "rig", tmp_path / "out") == 0
    head = (tmp_path / "out/README.txt").read_bytes().decode().split("\r\n")[:2]
    assert head == [f"quay-at-dusk: shoot {SHOOT}", "waiting, not begun; made 2026-12-01 15:59 Europe/Stockholm"]


def gained(rig: Path, *seqs: int, gain_ev: float = 0.25, film: Path | None = None, camera: str = "") -> None:
    """Gains as a clip leaves them beside it."""
    rows_ = [FrameGain(seq=seq, gain_ev=gain_ev, measured_ev=-3.0, wanted_ev=-3.0 + gain_ev) for seq in seqs]
    path = (rig / (film or clip_path(SHOOT))).with_suffix(".gains.json")
    path.parent.mkdir(exist_ok=True)
    write_gains_json(path, SHOOT, rows_, camera)


def read_by_exiftool(paths: list[Path]) -> list[dict[str, Any]]:
    """What another's reader finds in XMP: all that it does not know, too."""
    command = ["exiftool", "-json", "-XMP:all", *map(str, paths)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found


def test_each_picture_has_its_gain_beside_it(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    to = tmp_path / "out"
    gained(rig, 1, 2, 5, 7)
    before = originals(rig)
    assert hand_over(rig, to, "--json") == 0
    assert told(capsys)["sidecars"] == 4
    assert originals(rig) == before
    assert sums_hold(to)
    sidecars = sorted(to.glob("pictures/*.xmp"))
    assert [path.stem for path in sidecars] == [
        NAME.format(seq) for seq in (1, 2, 5, 7)
    ]  # one of a pair; also on the card
    for path, seq, each in zip(sidecars, (1, 2, 5, 7), read_by_exiftool(sidecars), strict=True):
        assert (each["Seq"], each["GainEv"], each["Shoot"]) == (seq, 0.25, SHOOT), path
    assert [(row["seq"], float(row["gain_ev"])) for row in rows(to / "gains.csv")] == [
        (seq, 0.25) for seq in ("1", "2", "5", "7")
    ]
    assert [row["seq"] for row in json.loads((to / "gains.json").read_text())["frames"]] == [1, 2, 5, 7]
    readme = (to / "README.txt").read_text()
    assert "\n.xmp\n" in readme
    assert "\ngains.csv\n" in readme


def test_a_sidecar_that_an_editor_changed_stays(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    to = tmp_path / "out"
    gained(rig, 1, 2)
    assert hand_over(rig, to) == 0
    theirs, ours = (to / f"pictures/{NAME.format(seq)}.xmp" for seq in (1, 2))
    theirs.write_text("edited")
    gained(rig, 1, 2, gain_ev=-0.5)
    capsys.readouterr()
    assert hand_over(rig, to, "--json") == 0
    made = told(capsys)
    assert (made["sidecars"], made["sidecars_kept"]) == (1, 1)
    assert theirs.read_text() == "edited"
    (found,) = read_by_exiftool([ours])
    assert found["GainEv"] == -0.5
    assert not list(to.rglob("*.was-*"))
    assert sums_hold(to)


def test_gains_are_those_of_the_camera_and_of_the_film_of_the_shoot(tmp_path: Path) -> None:
    rig, to = tmp_path / "rig", tmp_path / "out"
    cameras = ("camera-1", "camera-2")
    fill(rig, [fetched(rig, seq, camera=camera) for seq in (1, 2) for camera in cameras])
    gained(rig, 1, gain_ev=0.1, camera="camera-1")
    gained(rig, 1, 2, gain_ev=0.2, film=clips_directory(SHOOT) / "day-2026-12-01.mp4", camera="camera-1")
    gained(rig, 1, 2, gain_ev=0.3, film=clip_path(SHOOT, "camera-2"))
    assert hand_over(rig, to, "--name", "{camera}-{seq}") == 0
    sidecars = sorted(to.glob("pictures/*.xmp"))
    assert [path.stem for path in sidecars] == ["camera-1-1", "camera-1-2", "camera-2-1", "camera-2-2"]
    assert [each["GainEv"] for each in read_by_exiftool(sidecars)] == [0.1, 0.2, 0.3, 0.3]
    assert len(rows(to / "gains-camera-1.csv")) == len(rows(to / "gains-camera-2.csv")) == 2
    assert "\ngains.csv\n" in (to / "README.txt").read_text()


def test_a_film_of_chosen_frames_gives_only_what_no_other_has(rig: Path, tmp_path: Path) -> None:
    """Its gains make a frame like that of another day or hour, not like its neighbours."""
    own = clip_path(SHOOT)
    gained(rig, 1, gain_ev=0.1)
    gained(rig, 1, 2, gain_ev=0.2, film=clips_directory(SHOOT) / "day-2026-12-01.mp4")
    gained(rig, 1, 2, 3, gain_ev=0.3, film=own.with_stem(f"{own.stem}-hour-best"))
    assert hand_over(rig, tmp_path / "out") == 0
    table = rows(tmp_path / "out/gains.csv")
    assert [(row["seq"], float(row["gain_ev"])) for row in table] == [("1", 0.1), ("2", 0.2), ("3", 0.3)]


def test_without_gains_it_says_how_to_get_them(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert hand_over(rig, tmp_path / "out") == 0
    assert f"make the clip first, `duskhand clip {SHOOT} --dir {rig}`" in capsys.readouterr().out
    (rig / clip_path(SHOOT)).with_suffix(".gains.json").write_text("{")
    assert hand_over(rig, tmp_path / "out") == 0
    assert "no gains as a clip writes them. Make the clip again" in capsys.readouterr().out


def test_a_clip_and_then_a_hand_over(tmp_path: Path) -> None:
    """From frames to a folder that an editor takes, by the two commands alone."""
    rig, to = tmp_path / "rig", tmp_path / "out"
    fill(rig, dusk(12).save(rig, (96, 64)))
    assert main(["clip", "last", "--dir", str(rig)]) == 0
    assert hand_over(rig, to) == 0
    sidecars = sorted(to.glob("pictures/*.xmp"))
    assert [path.stem for path in sidecars] == [path.stem for path in sorted(to.glob("pictures/*.jpg"))]
    assert (to / f"clips/{SHOOT}.mp4").is_file()
    table = rows(to / "gains.csv")
    found = read_by_exiftool(sidecars)
    assert [each["GainEv"] for each in found] == [float(row["gain_ev"]) for row in table]
    assert any(each["GainEv"] for each in found)
    assert sums_hold(to)
