"""`hand-over` on a real log, real files and real disks: what is there, what is not; and nothing of the rig changes."""

from __future__ import annotations

import fcntl
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from controller.commands import main
from controller.words.documents import EXPORT_COLUMNS
from controller.words.layout import clip_path
from tests.results.dusk import CAMERA, SHOOT, START
from tests.results.handover_rig import content, fetched, fill, frame, originals
from tests.support.handed import LISTS, NAME, PICTURES, files, hand_over, process, rows, short_rig, sums_hold, told
from tests.whole.test_disk_full import small_disk


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    return short_rig(tmp_path)


def test_everything_is_in_one_folder_and_nothing_of_the_rig_changes(
    rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before, to = originals(rig), tmp_path / "out"
    assert hand_over(rig, to, "--json") == 0
    made = told(capsys)
    assert originals(rig) == before
    assert files(to) >= PICTURES | LISTS
    assert sums_hold(to)
    for seq in range(1, 5):
        assert (to / f"pictures/{NAME.format(seq)}.JPG").read_bytes() == content(seq, f".JPG{CAMERA}")
    assert (to / f"pictures/{NAME.format(5)}.NEF").read_bytes() == content(5, f".NEF{CAMERA}")
    assert all(path.stat().st_nlink == 1 for path in to.rglob("*") if path.is_file())
    assert (made["pictures"], made["copied"], made["there"], made["only_on_card"], made["failed"]) == (8, 8, 0, 1, 0)
    assert set(made["documents"]) == files(to) - PICTURES
    listed = {line[66:] for line in (to / "SHA256SUMS").read_text().splitlines()}
    assert listed == files(to) - {"SHA256SUMS"}


def test_the_log_as_csv_and_parquet_has_the_new_names(rig: Path, tmp_path: Path) -> None:
    to = tmp_path / "out"
    assert hand_over(rig, to, "--name", "{seq:04}") == 0
    logged = rows(to / "frames.csv")
    assert tuple(logged[0]) == (*EXPORT_COLUMNS, "folder_file", "folder_companion_file", "folder_preview")
    assert main(["frames", "last", "--dir", str(rig), "--csv", str(tmp_path / "log.csv")]) == 0
    assert [{name: row[name] for name in EXPORT_COLUMNS} for row in logged] == rows(tmp_path / "log.csv")
    assert [row["folder_file"] for row in logged] == [f"pictures/{seq:04d}.JPG" for seq in range(1, 7)] + ["", ""]
    assert [row["folder_companion_file"] for row in logged][3:7] == ["", "pictures/0005.NEF", "pictures/0006.NEF", ""]
    table = pq.read_table(to / "frames.parquet")
    assert table.column_names == list(logged[0])
    for name in ("folder_file", "folder_companion_file", "sha256", "cause", "state"):
        assert [value or "" for value in table[name].to_pylist()] == [row[name] for row in logged]


def test_what_is_missing_is_named_with_its_cause(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert hand_over(rig, tmp_path / "out") == 0
    out = capsys.readouterr().out.splitlines()
    assert "1 not there: only on the card" in out
    assert '1 not there: missed: held, "by hand"' in out
    card, missed = rows(tmp_path / "out/missing.csv")
    assert (card["seq"], card["why"], card["camera_file"]) == ("7", "only on the card", frame(7).camera_file)
    assert card["file"] == f"pictures/{NAME.format(7)}.JPG"
    assert (missed["seq"], missed["state"], missed["file"]) == ("8", "missed", "")
    readme = (tmp_path / "out/README.txt").read_bytes().decode()
    assert "1: only on the card\r\n" in readme
    assert all(f"\r\n{name}\r\n" in readme for name in LISTS - {"README.txt"})
    assert max(map(len, readme.splitlines())) <= 80


def test_again_copies_nothing_and_then_only_what_has_come(
    rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    to = tmp_path / "out"
    assert hand_over(rig, to) == 0
    stamps = {path: path.stat().st_mtime_ns for path in to.joinpath("pictures").iterdir()}
    (to / f"pictures/{NAME.format(2)}.JPG").unlink()
    capsys.readouterr()
    assert hand_over(rig, to, "--json") == 0
    made = told(capsys)
    assert (made["copied"], made["there"]) == (1, 7)
    assert files(to) == PICTURES | LISTS
    changed = {path.name for path, stamp in stamps.items() if path.stat().st_mtime_ns != stamp}
    assert changed == {f"{NAME.format(2)}.JPG"}
    assert sums_hold(to)


def test_a_picture_that_another_changed_is_left_and_named(
    rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    to = tmp_path / "out"
    assert hand_over(rig, to) == 0
    longer, same = to / f"pictures/{NAME.format(2)}.JPG", to / f"pictures/{NAME.format(3)}.JPG"
    longer.write_bytes(longer.read_bytes() + b"edited")
    same.write_bytes(b"x" + same.read_bytes()[1:])
    (to / "plan.toml").write_text("mine")
    capsys.readouterr()
    assert hand_over(rig, to, "--json") == 1
    assert told(capsys)["failed"] == 1
    assert longer.read_bytes().endswith(b"edited")
    assert [path.read_text() for path in to.glob("plan.toml.was-*")] == ["mine"]
    assert hand_over(rig, to, "--json", "--verify") == 1  # which reads what has its size, too
    assert told(capsys)["failed"] == 2
    assert same.read_bytes()[:1] == b"x"
    named = {row["file"]: row["why"] for row in rows(to / "missing.csv")}
    assert "another file of this name is in the folder" in named[f"pictures/{longer.name}"]
    assert "another file of this name is in the folder" in named[f"pictures/{same.name}"]
    assert sums_hold(to)


def test_what_is_wrong_on_the_rig_is_named_and_all_else_is_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig, to = tmp_path / "rig", tmp_path / "out"
    frames = [fetched(rig, seq, ".JPG", ".NEF") for seq in range(1, 5)]
    frames.append(fetched(rig, 5, rig_freed_utc=START + 1e6))
    fill(rig, frames)

    def at(seq: int, suffix: str) -> Path:
        return (rig / str(frames[seq - 1].local_file)).with_suffix(suffix)

    at(1, ".JPG").unlink()
    at(2, ".NEF").write_bytes(b"x" + at(2, ".NEF").read_bytes()[1:])
    at(3, ".JPG").unlink()
    at(3, ".JPG").mkdir()  # which no user can read as a file, not even root
    at(5, ".JPG").unlink()
    assert hand_over(rig, to) == 1
    captured = capsys.readouterr()
    whys = {row["file"].removeprefix(f"pictures/{SHOOT}-"): row["why"] for row in rows(to / "missing.csv")}
    assert whys == {
        "000001.JPG": "cannot be read on the rig: No such file or directory",
        "000002.NEF": "differs on the rig from its checksum in the log",
        "000003.JPG": "cannot be read on the rig: Is a directory",
        "000005.JPG": "deleted from the rig after it was copied to a second place",
    }
    assert all(f"1 not there: {why}" in captured.out for why in whys.values())
    there = {f"00000{seq}{suffix}" for seq in range(1, 5) for suffix in (".JPG", ".NEF")} - set(whys)
    assert {path.name.removeprefix(f"{SHOOT}-") for path in to.joinpath("pictures").iterdir()} == there
    assert sums_hold(to)


def test_files_of_another_size_are_one_reason_with_their_figures_in_the_table(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig, to = tmp_path / "rig", tmp_path / "out"
    frames = [fetched(rig, seq) for seq in range(1, 5)]
    fill(rig, frames)
    for place, short in ((0, 100), (2, 200)):
        path = rig / str(frames[place].local_file)
        path.write_bytes(path.read_bytes()[:short])
    assert hand_over(rig, to) == 1
    told = "has another size on the rig than the log says"
    assert f"\n2 not there: {told}\n" in capsys.readouterr().out
    assert f"  2: {told}" in (to / "README.txt").read_text()
    assert [row["why"] for row in rows(to / "missing.csv")] == [
        "has 100 bytes on the rig instead of 20000",
        "has 200 bytes on the rig instead of 20000",
    ]


def test_what_was_deleted_once_it_was_copied_is_no_failure(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rig, to = tmp_path / "rig", tmp_path / "out"
    frames = [fetched(rig, 1), fetched(rig, 2, rig_freed_utc=START + 1e6)]
    fill(rig, frames)
    assert hand_over(rig, to) == 0  # whose file is still there
    (rig / str(frames[1].local_file)).unlink()
    capsys.readouterr()
    assert hand_over(rig, to, "--json") == 0
    assert told(capsys)["there"] == 2
    (to / f"pictures/{NAME.format(2)}.JPG").unlink()
    assert hand_over(rig, to) == 0
    assert "1 not there: deleted from the rig after it was copied" in capsys.readouterr().out


def test_a_full_disk_gets_what_fits_and_the_lists(tmp_path: Path) -> None:
    """A disk of its own, looked at from within before it goes."""
    rig, disk, kept = tmp_path / "rig", tmp_path / "disk", tmp_path / "kept"
    fill(rig, [fetched(rig, seq) for seq in range(1, 81)])
    (rig / clip_path(SHOOT)).write_bytes(bytes(5_000_000))
    before = originals(rig)
    disk.mkdir()
    script = f'"$@"; code=$?; cp -r {disk}/out {kept}; exit $code'
    under = [*small_disk(disk, 4), "sh", "-c", script, "sh"]
    done = subprocess.run(process(rig, disk / "out", under=under), capture_output=True, text=True, check=False)
    assert done.returncode == 1, done.stderr
    assert "not there: no room was left there" in done.stdout
    assert f"clips/{SHOOT}.mp4 is not here: No space left on device" in done.stdout
    assert sums_hold(kept)
    pictures = {path.name for path in kept.joinpath("pictures").iterdir()}
    assert 0 < len(pictures) < 80
    missing = {row["file"].removeprefix("pictures/") for row in rows(kept / "missing.csv")}
    assert pictures.isdisjoint(missing)
    assert pictures | missing == {f"{NAME.format(seq)}.JPG" for seq in range(1, 81)}
    assert len(rows(kept / "frames.csv")) == 80
    assert originals(rig) == before


def test_a_disk_without_room_for_the_lists_is_told_in_one_line(tmp_path: Path) -> None:
    rig, disk = tmp_path / "rig", tmp_path / "disk"
    fill(rig, [fetched(rig, 1)])
    disk.mkdir()
    done = subprocess.run(
        process(rig, disk / "out", under=small_disk(disk, 1)), capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.count("\n") == 1
    assert "no room is left, not even for the lists" in done.stderr


def test_killed_in_the_middle_it_goes_on(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rig, to = tmp_path / "rig", tmp_path / "out"
    fill(rig, [fetched(rig, seq) for seq in range(1, 61)])
    running = subprocess.Popen(process(rig, to), stderr=subprocess.DEVNULL)
    try:
        while len(list(to.glob("pictures/*.JPG"))) < 3:
            assert running.poll() is None, "it was done before it could be killed"
            time.sleep(0.005)
    finally:
        running.send_signal(signal.SIGKILL)
        running.wait()
    whole = list(to.glob("pictures/*.JPG"))
    assert 3 <= len(whole) < 60
    for path in whole:
        assert path.read_bytes() == content(int(path.stem[-6:]), f".JPG{CAMERA}")
    assert not (to / "SHA256SUMS").exists()
    assert hand_over(rig, to, "--json") == 0
    made = told(capsys)
    assert made["there"] >= len(whole)
    assert made["copied"] + made["there"] == 60
    assert not [name for name in files(to) if name.endswith(".part")]
    assert sums_hold(to)


def two_cameras(rig: Path) -> None:
    cameras = ("camera-1", "camera-2")
    fill(rig, [fetched(rig, seq, camera=camera) for seq in (1, 2) for camera in cameras])


def test_of_two_cameras_each_has_names_of_its_own(tmp_path: Path) -> None:
    rig, to = tmp_path / "rig", tmp_path / "out"
    two_cameras(rig)
    for _ in range(2):
        assert hand_over(rig, to) == 0
    names = {path.stem for path in to.joinpath("pictures").iterdir()}
    assert names == {f"{SHOOT}-camera-{camera}-00000{seq}" for camera in (1, 2) for seq in (1, 2)}
    for camera in (1, 2):
        path = to / f"pictures/{SHOOT}-camera-{camera}-000002.JPG"
        assert path.read_bytes() == content(2, f".JPGcamera-{camera}")


@pytest.mark.parametrize(
    ("pattern", "what"),
    [
        ("{seq}", "frame 1 of camera-1 and frame 1 of camera-2 would both be called 1. Add {camera} to"),
        (
            "{camera}",
            "frame 1 of camera-1 and frame 2 of camera-1 would both be called camera-1. Add {seq} to",
        ),
        ("../{seq}", "leads out of the folder"),
        ("{sekunde}", "is no word"),
    ],
)
def test_bad_names_are_told_before_anything_is_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], pattern: str, what: str
) -> None:
    two_cameras(tmp_path / "rig")
    assert hand_over(tmp_path / "rig", tmp_path / "out", "--name", pattern) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert what in err
    assert not (tmp_path / "out").exists()


def test_a_folder_of_something_else_is_refused(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mine, file = tmp_path / "mine", tmp_path / "file"
    mine.mkdir()
    (mine / "README.txt").write_text("mine")
    file.write_text("mine")
    assert hand_over(rig, tmp_path / "out", "--name", "{seq}") == 0
    link = tmp_path / "link"
    link.symlink_to(rig)
    capsys.readouterr()
    for to, what in (
        (mine, "holds other files already"),
        (file, "is no folder"),
        (file / "below", "is no folder"),
        (rig, "lies in the rig's directory"),
        (rig / "shoots" / SHOOT, "lies in the rig's directory"),
        (link / "out", "lies in the rig's directory"),
        (tmp_path, "holds the rig's directory"),
        ("place:shed", "is no second place of this rig"),
        ("", "--to: no folder is named"),
    ):
        assert hand_over(rig, to) == 2, to
        err = capsys.readouterr().err
        assert what in err
        assert err.count("\n") == 1
    assert hand_over(rig, tmp_path / "out", "--name", "x{seq}") == 2
    told = capsys.readouterr().err
    assert "holds a hand-over of this shoot with other names. Name another folder, or give --name " in told
    assert "--name '{seq}', or none\n" in told
    assert hand_over(rig, tmp_path / "out", "--name", "") == 2
    assert "the pattern is empty" in capsys.readouterr().err
    assert hand_over(rig, tmp_path / "out") == 0  # as then
    assert files(mine) == {"README.txt"}


def test_two_at_a_time_do_not_write_into_one_folder(
    rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    to = tmp_path / "out"
    to.mkdir()
    held = os.open(to, os.O_RDONLY)
    fcntl.flock(held, fcntl.LOCK_EX)
    assert hand_over(rig, to) == 2
    assert "is being written by another hand-over. Wait for its end" in capsys.readouterr().err
    (to / ".room.part").write_bytes(b"of the other")
    assert hand_over(rig, to) == 2
    assert files(to) == {".room.part"}
    (to / ".room.part").unlink()
    os.close(held)
    assert hand_over(rig, to) == 0


def test_a_folder_that_takes_nothing_is_one_line(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert hand_over(rig, "/proc/no/folder") == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "cannot be used" in err


def test_an_empty_shoot_has_its_lists(tmp_path: Path) -> None:
    fill(tmp_path / "rig", [])
    assert hand_over(tmp_path / "rig", tmp_path / "out") == 0
    assert files(tmp_path / "out") == LISTS - {"missing.csv"}
    assert rows(tmp_path / "out/frames.csv") == []
    assert sums_hold(tmp_path / "out")


def test_a_log_that_was_made_anew_has_no_checksums_and_the_files_count(tmp_path: Path) -> None:
    rig, to = tmp_path / "rig", tmp_path / "out"
    fill(rig, [fetched(rig, 1, sha256=None), fetched(rig, 2, ".JPG", ".NEF", sha256=None, companion_sha256=None)])
    for _ in range(2):
        assert hand_over(rig, to) == 0
        assert sums_hold(to)
    assert len(list(to.joinpath("pictures").iterdir())) == 3


def test_ctrl_c_leaves_whole_files_alone(tmp_path: Path) -> None:
    rig, to = tmp_path / "rig", tmp_path / "out"
    fill(rig, [fetched(rig, seq) for seq in range(1, 61)])
    reset = (
        "import os, signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler);"
        " os.execv(sys.argv[1], sys.argv[1:])"
    )
    running = subprocess.Popen([sys.executable, "-c", reset, *process(rig, to)], stderr=subprocess.PIPE, text=True)
    try:
        while len(list(to.glob("pictures/*.JPG"))) < 3:
            assert running.poll() is None, "it was done before it could be stopped"
            time.sleep(0.005)
        running.send_signal(signal.SIGINT)
        _, err = running.communicate(timeout=60)
    finally:
        if running.poll() is None:
            running.kill()
    assert running.returncode == 130
    assert "Traceback" not in err
    assert "stopped; the same command goes on from there\n" in err
    left = files(to)
    assert {name for name in left if not name.startswith("pictures/")} == {"hand-over.json"}
