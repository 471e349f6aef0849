"""Small pictures in a hand-over: of frames whose own file is not on the rig, apart from the pictures."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from controller.words.layout import preview_path
from tests.results.dusk import SHOOT, START
from tests.results.handover_rig import content, fetched, fill, frame, originals
from tests.support.handed import NAME, files, hand_over, process, rows, sums_hold, told
from tests.whole.test_disk_full import small_disk


def small(rig: Path, seq: int, camera: str = "camera-1") -> bytes:
    path = rig / preview_path(SHOOT, seq, camera)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content(seq, "preview"))
    return path.read_bytes()


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    """A fetched frame, two on the card alone, one deleted from the rig once copied, one without a small picture."""
    rig = tmp_path / "rig"
    gone = fetched(rig, 4, preview=True, rig_freed_utc=START + 1e6, copies="attic")
    (rig / str(gone.local_file)).unlink()
    frames = [fetched(rig, 1, preview=True), frame(2, preview=True), frame(3, preview=True), gone, frame(5)]
    for seq in (1, 2, 3, 4):
        small(rig, seq)
    fill(rig, frames)
    return rig


def test_they_stand_for_frames_whose_picture_is_not_there(
    rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    to, before = tmp_path / "out", originals(rig)
    assert hand_over(rig, to) == 0
    assert "3 previews of frames whose own pictures are not on the rig" in capsys.readouterr().out.splitlines()
    assert originals(rig) == before
    names = {seq: f"previews/{NAME.format(seq)}.jpg" for seq in (2, 3, 4)}
    assert {name for name in files(to) if name.startswith("previews/")} == set(names.values())
    for seq, name in names.items():
        assert (to / name).read_bytes() == content(seq, "preview")
    logged = rows(to / "frames.csv")
    assert [row["folder_preview"] for row in logged] == ["", names[2], names[3], names[4], ""]
    assert [row["folder_file"] for row in logged] == [f"pictures/{NAME.format(1)}.JPG", "", "", "", ""]
    assert [row["seq"] for row in rows(to / "missing.csv")] == ["2", "3", "4", "5"]  # a preview is not the picture
    readme = (to / "README.txt").read_text()
    assert "1 picture file and 3 previews in this folder." in " ".join(readme.split())
    assert "\npreviews/\n" in readme
    assert sums_hold(to)
    assert hand_over(rig, to, "--json") == 0
    made = told(capsys)
    assert (made["pictures"], made["previews"], made["copied"], made["there"]) == (1, 3, 0, 1)


def test_lists_alone_are_without_them(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert hand_over(rig, tmp_path / "out", "--no-files", "--json") == 0
    assert told(capsys)["previews"] == 0
    assert not any(name.startswith("previews/") for name in files(tmp_path / "out"))


def test_one_that_the_rig_has_lost_is_named(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (rig / preview_path(SHOOT, 3)).unlink()
    assert hand_over(rig, tmp_path / "out", "--json") == 1
    assert told(capsys)["previews"] == 2
    whys = {row["file"]: row["why"] for row in rows(tmp_path / "out/missing.csv")}
    assert whys[f"previews/{NAME.format(3)}.jpg"] == "cannot be read on the rig: No such file or directory"


def test_in_a_second_place_they_keep_the_rigs_names(
    rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shed = tmp_path / "shed"
    shed.mkdir()
    places = rig / "places.toml"
    places.write_text(f'[shed]\nkind = "directory"\npath = "{shed}"\nown_disk = true\n')
    places.chmod(0o600)
    assert hand_over(rig, "place:shed", "--json") == 0
    assert told(capsys)["previews"] == 3
    assert (shed / preview_path(SHOOT, 2)).read_bytes() == content(2, "preview")
    assert sums_hold(shed / "shoots" / SHOOT)


def test_on_a_full_disk_those_that_do_not_fit_are_named(tmp_path: Path) -> None:
    rig, disk, kept = tmp_path / "rig", tmp_path / "disk", tmp_path / "kept"
    fill(rig, [frame(seq, preview=True) for seq in range(1, 81)])
    for seq in range(1, 81):
        small(rig, seq)
    disk.mkdir()
    under = [*small_disk(disk, 4), "sh", "-c", f'"$@"; code=$?; cp -r {disk}/out {kept}; exit $code', "sh"]
    done = subprocess.run(process(rig, disk / "out", under=under), capture_output=True, text=True, check=False)
    assert done.returncode == 1, done.stderr
    there = {name for name in files(kept) if name.startswith("previews/")}
    named = {row["file"] for row in rows(kept / "missing.csv") if row["why"] == "no room was left there"}
    assert 0 < len(there) < 80
    assert there | named == {f"previews/{NAME.format(seq)}.jpg" for seq in range(1, 81)}
    assert sums_hold(kept)
