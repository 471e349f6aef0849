"""`shoots`, `frames` and `report` on a real frame log, in process and as a process of their own."""

from __future__ import annotations

import asyncio
import csv
import hashlib
import io
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pyarrow.parquet
import pytest

from controller.commands import main
from controller.commands.progress import Progress
from controller.store import Store
from controller.store.files import database_path
from controller.store.schema import inspect
from controller.words import layout
from controller.words.documents import EXPORT_COLUMNS, FrameState, ShootState
from controller.words.errors import NotFound
from tests.results.dusk import NOTES, SHOOT, SLOTS, START, shoot, slots
from tests.whole.test_disk_full import small_disk


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    """A rig's directory whose log holds an older shoot and a dusk of 240 slots, two of them fetched."""

    async def fill() -> None:
        async with await Store.open(database_path(tmp_path)) as store:
            frames = slots()
            await store.add_shoot(shoot([], id="2026-11-30-quay-at-dusk", created_utc=START - 86_400))
            await store.add_shoot(shoot(frames))
            await store.add_missed(frames)
            for note in NOTES:
                await store.note(note)
            for seq in (1, 2):
                content = bytes([seq]) * 1000
                name = f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg"
                (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
                (tmp_path / name).write_bytes(content)
                sha = hashlib.sha256(content).hexdigest()
                fields = {"state": FrameState.FETCHED, "local_file": name, "bytes": 1000, "sha256": sha}
                await store.change_frame(SHOOT, seq, frames[0].camera, **fields)

    asyncio.run(fill())
    return tmp_path


def duskhand(*words: str | Path, under: Sequence[str] = ()) -> subprocess.CompletedProcess[str]:
    code = "from controller.commands import main; raise SystemExit(main())"
    environment = {**os.environ, "PYTHONIOENCODING": "utf-8"}
    return subprocess.run(
        [*under, sys.executable, "-c", code, *map(str, words)],
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )


@pytest.mark.parametrize("missed", [False, True])
def test_the_last_shoot_is_the_one_that_began_last(rig: Path, missed: bool, capsys: pytest.CaptureFixture[str]) -> None:
    """In the morning the next evening's shoot waits already; one whose camera never came has slots that were missed."""

    async def wait() -> None:
        async with await Store.open(database_path(rig)) as store:
            start = START + 86_400
            later = shoot([], id="2026-12-02-next", created_utc=START + 40_000, started_utc=None, start_utc=start)
            await store.add_shoot(later)
            if missed:
                await store.add_missed([slots()[60].model_copy(update={"shoot": later.id, "due_utc": start, "seq": 1})])

    asyncio.run(wait())
    assert main(["report", "last", "--dir", str(rig), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["shoot"] == ("2026-12-02-next" if missed else SHOOT)


def test_where_none_has_begun_the_last_is_the_newest(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    async def fill() -> None:
        async with await Store.open(database_path(tmp_path)) as store:
            for number in (1, 2):
                made = {"created_utc": START + number, "started_utc": None, "state": ShootState.WAITING}
                await store.add_shoot(shoot([], id=f"2026-12-0{number}-quay", **made))

    asyncio.run(fill())
    assert main(["report", "last", "--dir", str(tmp_path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["shoot"] == "2026-12-02-quay"


def test_shoots(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["shoots", "--dir", str(rig)]) == 0
    header, older, newer = capsys.readouterr().out.splitlines()
    assert older.split()[:2] == ["2026-11-30-quay-at-dusk", "done"]
    assert newer.split() == [SHOOT, "done", "2026-12-01", "16:00", "235", "4", "1"]
    assert len(header) <= 80
    assert main(["shoots", "--dir", str(rig), "--json"]) == 0
    assert [each["id"] for each in json.loads(capsys.readouterr().out)] == ["2026-11-30-quay-at-dusk", SHOOT]


def test_shoots_tell_when_a_hold_ends_by_itself(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    async def fill() -> None:
        async with await Store.open(database_path(tmp_path)) as store:
            held = {"state": ShootState.HELD, "ended_utc": None}
            await store.add_shoot(shoot([], id="2026-11-30-one", **held))
            await store.add_shoot(shoot([], id="2026-11-30-two", **held, hold_s=600.0, held_until_utc=START + 600))

    asyncio.run(fill())
    assert main(["shoots", "--dir", str(tmp_path)]) == 0
    _, one, two = capsys.readouterr().out.splitlines()
    assert one.split()[-1] == "0", "by hand: nobody knows when"
    assert two.endswith("  goes on 2026-12-01 16:10")


def test_frames_for_people(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["frames", "last", "--dir", str(rig)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == SLOTS + 2  # a header and the day
    assert lines[1] == "2026-12-01, times of Europe/Stockholm"
    assert lines[2].split()[:2] == ["1", "16:00:00"]
    assert lines[2].endswith("fetched")
    assert lines[62].endswith("missed: the camera did not answer")
    assert max(len(line) for line in lines if ": " not in line) <= 80
    assert main(["frames", "2026-11-30-quay-at-dusk", "--dir", str(rig)]) == 0
    assert "No slot" in capsys.readouterr().out


def test_frames_as_csv_and_json_tell_the_same(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "log.csv"
    assert main(["frames", SHOOT, "--dir", str(rig), "--csv", str(out)]) == 0
    assert "240 slots" in capsys.readouterr().out
    with out.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0]) == EXPORT_COLUMNS
    assert main(["frames", SHOOT, "--dir", str(rig), "--json"]) == 0
    documents = json.loads(capsys.readouterr().out)
    assert len(rows) == len(documents) == SLOTS
    for row, document in zip(rows, documents, strict=True):
        assert row == {name: "" if document[name] is None else str(document[name]) for name in EXPORT_COLUMNS}
    done = duskhand("frames", SHOOT, "--dir", rig, "--csv", "-")
    assert list(csv.DictReader(io.StringIO(done.stdout))) == rows


def test_report(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", "last", "--dir", str(rig)]) == 0
    text = capsys.readouterr().out
    assert "97.9 %" in text
    assert "connected again" in text
    assert "2.0 kB in 2 files on the rig; 233 frames only on the card" in text
    assert main(["report", "last", "--dir", str(rig), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["frames"] == 235


def test_report_verifies_files(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", "last", "--dir", str(rig), "--verify"]) == 0
    assert "2 of 2 read and found whole" in capsys.readouterr().out
    (rig / f"shoots/{SHOOT}/2026-12-01/000002.jpg").write_bytes(b"x" * 1000)
    assert main(["report", "last", "--dir", str(rig), "--verify", "--json"]) == 1
    verified = json.loads(capsys.readouterr().out)["integrity"]
    assert verified["damaged"][0]["seq"] == 2
    assert main(["report", "last", "--dir", str(rig), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["integrity"] == verified  # as last read


def test_what_cannot_be_kept_is_told_all_the_same(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (rig / f"shoots/{SHOOT}/verified.json.part").mkdir()  # no file can be written there
    assert main(["report", "last", "--dir", str(rig), "--verify"]) == 0
    said = capsys.readouterr()
    assert "2 of 2 read and found whole" in said.out
    (line,) = [line for line in said.err.splitlines() if not line.startswith("reading files")]
    assert line.startswith("duskhand report: what was found is not kept for later: ")


def test_a_page_into_a_place_that_is_not_there(rig: Path, tmp_path: Path) -> None:
    done = duskhand("report", "last", "--dir", rig, "--html", tmp_path / "no" / "report.html")
    assert (done.returncode, done.stdout) == (2, "")
    assert "No such file or directory. Choose another file with --html" in done.stderr


@pytest.mark.parametrize("command", ["shoots", "frames last", "report last"])
def test_no_log_here(tmp_path: Path, command: str) -> None:
    done = duskhand(*command.split(), "--dir", tmp_path / "nowhere")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert "no frame log here. Name the rig's directory with --dir" in done.stderr
    assert not (tmp_path / "nowhere").exists()


def test_no_log_here_while_a_service_has_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layout, "OF_THE_SERVICE", tmp_path)
    with pytest.raises(NotFound) as told:
        inspect(tmp_path / "own" / layout.DATABASE)
    assert str(told.value).endswith(f"Name the rig's directory with --dir; the service's is {tmp_path}")
    with pytest.raises(NotFound) as told:
        inspect(tmp_path / layout.DATABASE)
    assert str(told.value).endswith("Name the rig's directory with --dir")


def test_a_log_that_belongs_to_others(rig: Path) -> None:
    rig.chmod(0)
    bound = ("setpriv", "--bounding-set=-dac_override,-dac_read_search") if os.geteuid() == 0 else ()
    done = duskhand("shoots", "--dir", rig, under=bound)
    rig.chmod(0o700)
    what = (
        f"duskhand shoots: {rig / layout.DATABASE}: Permission denied. Read it with sudo, or as a member of the group"
    )
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith(what)
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("command", ["frames", "report"])
def test_unknown_shoot(rig: Path, command: str) -> None:
    done = duskhand(command, "2020-01-01-other", "--dir", rig)
    assert done.returncode == 2
    assert done.stderr == (
        f"duskhand {command}: 2020-01-01-other: no shoot of this id is in the log."
        f" List them with `duskhand shoots --dir {rig}`\n"
    )


@pytest.mark.parametrize("named", ["quay-at-dusk", "quay-at-dsk", SHOOT.replace("dusk", "dsuk")])
def test_a_plan_in_place_of_a_shoot_or_a_slip(rig: Path, named: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["frames", named, "--dir", str(rig)]) == 2
    told = f"duskhand frames: {named}: no shoot of this id is in the log. Did you mean {SHOOT}?\n"
    assert capsys.readouterr().err == told


def test_last_of_an_empty_log(tmp_path: Path) -> None:
    async def make() -> None:
        await (await Store.open(database_path(tmp_path))).close()

    asyncio.run(make())
    assert duskhand("shoots", "--dir", tmp_path).stdout == "No shoot yet.\n"
    done = duskhand("report", "last", "--dir", tmp_path)
    assert done.returncode == 2
    assert "no shoot is in the log yet" in done.stderr


def test_a_log_that_is_none(tmp_path: Path) -> None:
    database_path(tmp_path).write_bytes(b"holiday pictures " * 500)
    done = duskhand("shoots", "--dir", tmp_path)
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert "not a database" in done.stderr


def test_csv_into_a_place_that_is_not_there(rig: Path, tmp_path: Path) -> None:
    done = duskhand("frames", "last", "--dir", rig, "--csv", tmp_path / "no" / "log.csv")
    assert done.returncode == 2
    assert "No such file or directory. Choose another file with --csv" in done.stderr


@pytest.mark.parametrize("form", ["--csv", "--parquet"])
def test_a_full_disk_is_no_bad_input(rig: Path, form: str) -> None:
    done = duskhand("frames", "last", "--dir", rig, form, "/dev/full")
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (1, "", 1)
    assert "/dev/full: cannot be written: " in done.stderr
    assert "Free some space there" in done.stderr


def test_neither_is_one_behind_standard_output(rig: Path) -> None:
    command = [sys.executable, "-m", "controller", "frames", "last", "--dir", str(rig), "--csv", "-"]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert (done.returncode, done.stderr.count("\n")) == (1, 1)
    assert "standard output: cannot be written: No space left on device. Free some space" in done.stderr


def test_a_page_onto_a_full_disk(rig: Path, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    command = [sys.executable, "-m", "controller", "report", "last", "--dir", str(rig), "--html", f"{disk}/report.html"]
    filled = ["sh", "-c", 'head -c 2M /dev/zero > "$0/filler" 2> "$0.said"; "$@"; echo $?; ls -A "$0"', str(disk)]
    done = subprocess.run([*small_disk(disk, 1), *filled, *command], capture_output=True, text=True, check=False)
    assert done.stdout.split() == ["1", "filler"]
    assert done.stderr.count("\n") == 1
    assert f"{disk}/report.html: cannot be written: No space left on device. Free some space there" in done.stderr


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_is_lines_without_a_terminal_and_a_bar_with_one() -> None:
    plain = io.StringIO()
    with Progress("encoding", plain) as progress:
        for done in range(1, 251):
            progress.step(done, 250)
    assert plain.getvalue().splitlines() == [f"encoding: {share} %" for share in range(10, 101, 10)]
    terminal = _Terminal()
    with Progress("encoding", terminal) as progress:
        progress.step(125, 250)
        progress.step(250, 250)
    assert "100 %  250/250" in terminal.getvalue()
    assert terminal.getvalue().endswith("\r\x1b[K")
    assert "\n" not in terminal.getvalue()


def test_frames_as_parquet_are_those_of_the_csv(rig: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, plain = tmp_path / "log.parquet", tmp_path / "log.csv"
    assert main(["frames", "last", "--dir", str(rig), "--parquet", str(out)]) == 0
    assert capsys.readouterr().out == f"240 slots in {out}\n"
    assert main(["frames", "last", "--dir", str(rig), "--csv", str(plain), "--camera", "camera-1"]) == 0
    with plain.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    table = pyarrow.parquet.read_table(out)
    assert [str(seq) for seq in table["seq"].to_pylist()] == [row["seq"] for row in rows]
    assert table["state"].to_pylist() == [row["state"] for row in rows]
    assert table["cause"].to_pylist() == [row["cause"] or None for row in rows]


@pytest.mark.parametrize(("form", "out"), [("--parquet", "-"), ("--parquet", "{}/no/log"), ("--csv", "{}/no/log")])
def test_where_the_log_cannot_go(rig: Path, capsys: pytest.CaptureFixture[str], form: str, out: str) -> None:
    assert main(["frames", "last", "--dir", str(rig), form, out.format(rig)]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize("form", ["--csv", "--parquet"])
def test_a_camera_that_shot_nothing_leaves_no_file(rig: Path, capsys: pytest.CaptureFixture[str], form: str) -> None:
    assert main(["frames", "last", "--dir", str(rig), form, str(rig / "log"), "--camera", "camera-9"]) == 2
    assert "camera-1" in capsys.readouterr().err
    assert not list(rig.glob("log*"))
