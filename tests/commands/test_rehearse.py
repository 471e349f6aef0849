"""`duskhand rehearse`, run as a user runs it."""

from __future__ import annotations

import asyncio
import csv
import json
import subprocess
import sys
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest
from PIL import Image

from controller.rehearsal import rehearse_now
from controller.store import Store
from controller.store.files import database_path
from controller.words.documents import EXPORT_COLUMNS, Shoot, ShootState
from tests.decide import PLANS, example

QUAY = next(path for path in PLANS if path.stem == "quay_at_dusk")
DUSKHAND = [sys.executable, "-c", "import sys; from controller.commands import main; sys.exit(main())", "rehearse"]
DAY = ("--date", "2026-10-03")


def run(*args: str, text: str | None = None, columns: str = "80") -> subprocess.CompletedProcess[str]:
    environment = {"COLUMNS": columns, "PYTHONIOENCODING": "utf-8", "PATH": "/usr/bin:/bin"}
    return subprocess.run(
        [*DUSKHAND, *args], capture_output=True, text=True, input=text, check=False, env=environment, encoding="utf-8"
    )


def summary(*args: str) -> dict:
    done = run(*args, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.parametrize("path", PLANS, ids=lambda p: p.stem)
def test_every_example_is_rehearsed(path: Path):
    done = run(str(path), "--date", "2026-12-03", columns="45")
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert "a clip of" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 45


def test_gaps_hold_the_move_of_a_motion_rig(tmp_path: Path):
    """docs/wiring.md: what a move needs is after_s, pulse_s and settle_s together; 0.1 and 0.2 s where left out."""
    rig, table = tmp_path / "rig", tmp_path / "quay.csv"
    rig.mkdir()
    args = (str(QUAY), *DAY, "--csv", str(table))

    def least_gap_s() -> float:
        with table.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        due = [datetime.fromisoformat(row["due_utc"]).timestamp() for row in rows]
        return min(b - a - float(row["shutter_s"]) for (a, b), row in zip(pairwise(due), rows, strict=False))

    still = run(*args, "--dir", str(rig))
    assert "motion rig" not in still.stdout
    without = least_gap_s()
    (rig / "rig.toml").write_text("[motion]\npin = 17\nsettle_s = 3.7\n")
    moved = run(*args, "--dir", str(rig))
    assert moved.returncode == 0, moved.stderr
    assert without < 4.0 - 0.01 <= least_gap_s()
    assert "The gap is 4 s at least" in moved.stdout


def test_the_window_is_the_day_s_and_the_clip_what_its_frames_make(tmp_path: Path):
    table = tmp_path / "quay.csv"
    found = summary(str(QUAY), *DAY, "--csv", str(table))
    with table.open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    assert head == list(EXPORT_COLUMNS)
    assert len(rows) == found["frames"]
    assert found["missed"] == {}
    assert found["clip_s"] == pytest.approx(found["frames"] / 25)
    due = [datetime.fromisoformat(row[head.index("due_utc")]).timestamp() for row in rows]
    # 45 min before the sunset of that day, 16:41:02 UTC, which tests/decide hold against skyfield
    assert due[0] == pytest.approx(datetime.fromisoformat("2026-10-03T15:56:02+00:00").timestamp(), abs=1.5)
    intervals = [float(row[head.index("interval_s")]) for row in rows]
    steps = [after - before for before, after in pairwise(due)]
    assert steps == pytest.approx(intervals[:-1], abs=2e-3)  # the next is due one interval later; times in ms
    gaps = [float(row[head.index("gap_s")]) for row in rows]
    assert min(gaps) >= 1.0 - 1e-9
    assert not list(tmp_path.glob("*.part"))


def test_a_card_that_fills_holds_no_more_than_it_has_room_for():
    found = summary(str(QUAY), *DAY, "--card", "9GB", "--frame-mb", "30")
    assert 297 <= found["frames"] <= 300  # test frames before the first slot take room as well
    assert sum(found["missed"].values()) + found["frames"] == summary(str(QUAY), *DAY)["frames"]
    assert [bind["kind"] for bind in found["binds"]].count("card") == 1


def test_a_camera_that_sleeps_is_told_of():
    found = summary(str(QUAY), *DAY, "--sleep-s", "6", "--wake-s", "1")
    assert "sleep" in {bind["kind"] for bind in found["binds"]}
    assert "sleep" not in {bind["kind"] for bind in summary(str(QUAY), *DAY)["binds"]}


def test_clouds_from_a_file_darken_the_pictures(tmp_path: Path):
    """A transmission of 1/8 is three stops."""
    table = tmp_path / "clouds.csv"
    table.write_text("# invented\nminute,transmission\n0,0.125\n600,0.125\n", "utf-8")
    clear, dim = tmp_path / "clear.csv", tmp_path / "dim.csv"
    summary(str(QUAY), *DAY, "--csv", str(clear))
    summary(str(QUAY), *DAY, "--csv", str(dim), "--sky", str(table))

    def scenes(path: Path) -> list[float]:
        with path.open(encoding="utf-8", newline="") as file:
            return [float(row["scene_ev"]) for row in csv.DictReader(file)][20:200]

    for bright, dark in zip(scenes(clear), scenes(dim), strict=True):
        assert bright - dark == pytest.approx(3.0, abs=0.1)


def test_the_same_seed_gives_the_same_rehearsal(tmp_path: Path):
    one, two, other = (tmp_path / name for name in ("1.csv", "2.csv", "3.csv"))
    for path, seed in ((one, "4"), (two, "4"), (other, "5")):
        summary(str(QUAY), *DAY, "--sky", "cloudy", "--seed", seed, "--csv", str(path))
    assert one.read_bytes() == two.read_bytes() != other.read_bytes()


def test_pictures_and_what_is_printed(tmp_path: Path):
    done = run(str(QUAY), *DAY, "--plot", str(tmp_path / "a.png"), "--csv", str(tmp_path / "a.csv"))
    assert done.returncode == 0, done.stderr
    assert "Sat 03 Oct 2026 17:56:03 CEST" in done.stdout
    assert "interval, " not in done.stderr
    assert done.stdout.splitlines()[-2:] == [f"written: {tmp_path / 'a.csv'}", f"written: {tmp_path / 'a.png'}"]
    with Image.open(tmp_path / "a.png") as image:
        assert image.format == "PNG"
    printed = run(str(QUAY), *DAY, "--csv", "-")
    assert printed.stdout.encode() == (tmp_path / "a.csv").read_bytes().replace(b"\r\n", b"\n")


def test_windows_of_a_repeated_plan():
    text = QUAY.read_text("utf-8").replace("[when]", '[when]\nevery = "day"', 1)
    done = run("-", *DAY, "--windows", "3", "--json", text=text)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["windows"] == 3
    span_s = (
        datetime.fromisoformat(found["stop_utc"]).timestamp() - datetime.fromisoformat(found["start_utc"]).timestamp()
    )
    assert 2 * 86_400 < span_s < 2.3 * 86_400


@pytest.mark.parametrize(
    ("args", "what"),
    [
        (["no-such.toml"], "cannot be read"),
        ([str(QUAY), "--sky", "foggy"], "--sky foggy: is neither a sky nor a file. Give clear, cloudy, or a FILE.csv"),
        ([str(QUAY), "--sky", "Cloud"], "Did you mean cloudy?"),
        ([str(QUAY), "--sky", "no.csv"], "--sky no.csv: cannot be read"),
        ([str(QUAY), "--windows", "0"], "--windows"),
        ([str(QUAY), "--card", "big"], "--card"),
        ([str(QUAY), "--write-s", "-1"], "--write-s"),
        ([str(QUAY), "--sleep-s", "nan"], "--sleep-s"),
        ([str(QUAY), "--sleep-s", "8,5"], "--sleep-s: '8,5' has a comma. Write 8.5"),
        ([str(QUAY), "--write-s", "long"], "--write-s: 'long' is no length of time. Write it like"),
        ([str(QUAY), "--wake-s", "2h"], "--wake-s: 7200 s is out of range"),
        ([str(QUAY), "--frame-mb", "8s"], "--frame-mb: '8s' is no number"),
        ([str(QUAY), "--frame-mb", "0"], "--frame-mb"),
        ([str(QUAY), "--plot", "night.gif"], "night.gif"),
        ([str(QUAY), "--plot", "/no/such/place/a.svg"], "--plot"),
        ([str(QUAY), "--csv", "/no/such/place/a.csv"], "--csv"),
        ([str(QUAY), "--date", "yesterday"], "rehearse: --date: 'yesterday' is no date. Write it like"),
        ([str(QUAY), "--seed", "x"], "--seed: 'x' is no whole number"),
    ],
)
def test_bad_input_is_one_line_and_exit_code_2(args: list[str], what: str):
    done = run(*args)
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 1, done.stderr
    assert what in done.stderr


def test_numbers_with_units_are_taken():
    with_units = ("--write-s", "2s", "--sleep-s", "1min", "--wake-s", "3 s", "--frame-mb", "0.04GB")
    alone = ("--write-s", "2", "--sleep-s", "60", "--wake-s", "3", "--frame-mb", "40")
    assert summary(str(QUAY), *DAY, *with_units) == summary(str(QUAY), *DAY, *alone)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "minute,light\n0,1\n",
        "minute,transmission\n",
        "minute,transmission\n0,1\n0,1\n",
        "minute,transmission\n0,7\n",
    ],
)
def test_a_table_of_clouds_that_is_none(tmp_path: Path, text: str):
    table = tmp_path / "clouds.csv"
    table.write_text(text, "utf-8")
    done = run(str(QUAY), "--sky", str(table))
    assert done.returncode == 2
    assert len(done.stderr.strip().splitlines()) == 1
    assert "clouds.csv" in done.stderr


def test_a_view_that_an_earlier_shoot_knows(tmp_path: Path):
    """That shoot is this very evening, two stops brighter than the model sky."""
    plan, rows = example("quay_at_dusk"), []
    start_utc = datetime.fromisoformat("2026-10-03T15:50:00+00:00").timestamp()
    rehearse_now(plan, now_utc=start_utc, on_frame=rows.append)

    async def keep() -> None:
        async with await Store.open(database_path(tmp_path)) as store:
            state = ShootState.DONE
            shoot = Shoot(id="quay", plan_name="quay", plan=plan.document(), state=state, created_utc=start_utc)
            await store.add_shoot(shoot)
            seen = [row.model_copy(update={"shoot": "quay", "scene_ev": (row.scene_ev or 0.0) + 2.0}) for row in rows]
            await store.add_missed(seen)

    asyncio.run(keep())
    table = tmp_path / "like.csv"
    summary(str(QUAY), *DAY, "--like", "last", "--dir", str(tmp_path), "--csv", str(table))
    with table.open(encoding="utf-8", newline="") as file:
        brighter = [float(row["scene_ev"]) for row in csv.DictReader(file)]
    offs = [found - (row.scene_ev or 0.0) for found, row in zip(brighter, rows, strict=False)][30:300]
    assert offs == pytest.approx([2.0] * len(offs), abs=0.15)
    unknown = run(str(QUAY), "--like", "other", "--dir", str(tmp_path))
    assert (unknown.returncode, len(unknown.stderr.strip().splitlines())) == (2, 1)


def test_it_starts_in_the_second_that_the_plan_says():
    """That evening's window starts 0.79 s after a whole second."""
    planned = json.loads(subprocess.check_output([*DUSKHAND[:-1], "plan", str(QUAY), *DAY, "--json"], text=True))
    start = datetime.fromisoformat(planned["windows"][0]["start_local"])
    assert datetime.fromisoformat(planned["windows"][0]["start_utc"]) < start
    assert f"from        {start:%a %d %b %Y %H:%M:%S}" in run(str(QUAY), *DAY).stdout
