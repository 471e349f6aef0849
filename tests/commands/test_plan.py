"""`duskhand plan`, run as a user runs it."""

from __future__ import annotations

import asyncio
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from controller.store import Store
from controller.store.files import database_path
from controller.words.advice import PlanSummary
from controller.words.bodies import BodySeen
from tests.decide import PLANS

QUAY = next(path for path in PLANS if path.stem == "quay_at_dusk")
DUSKHAND = [sys.executable, "-c", "import sys; from controller.commands import main; sys.exit(main())", "plan"]


def run(*args: str, text: str | None = None, columns: int = 80) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "COLUMNS": str(columns), "DUSKHAND_DIR": "/nowhere/at/all"}
    return subprocess.run([*DUSKHAND, *args], capture_output=True, text=True, input=text, check=False, env=env)


def said(*args: str, text: str | None = None) -> str:
    """What is printed, its lines joined."""
    return re.sub(r"\s+", " ", run(*args, text=text).stdout)


@pytest.mark.parametrize("path", PLANS, ids=lambda p: p.stem)
def test_every_example_comes_to_something(path):
    done = run(str(path), "--date", "2026-12-03")
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert path.stem.replace("_", "-") in done.stdout.replace("_", "-")


def test_times_by_the_clock_at_the_site_frames_clip_and_storage():
    out = said(str(QUAY), "--date", "2026-10-03", "--frame-mb", "25")
    assert re.search("17:56:0[23] – 20:34:5", out)  # 45 min before sunset: 16:41:02 UTC and two hours of summer time
    assert "CEST (UTC+2)" in out
    assert "civil dusk" in out
    assert re.search(r"\d+ frames, a clip of [\d.]+ s at 25 frames/s", out)
    assert re.search(r"card 28.5 GB for [\d,]+ frames, 25 MB a frame \(as given\)", out)
    assert "The night may be spoiled - From" in out


def test_json_says_the_same():
    done = run(str(QUAY), "--date", "2026-10-03", "--json")
    found = json.loads(done.stdout)
    assert found["windows"][0]["start_local"] in ("2026-10-03T17:56:02+02:00", "2026-10-03T17:56:03+02:00")
    assert found["frames"] == found["windows"][0]["frames"]
    assert found["clip_s"] == pytest.approx(found["frames"] / found["fps"])
    assert found["storage"]["card_bytes"] == (found["frames"] + 5) * 30_000_000
    assert found["storage"]["assumed"] is True
    assert {"costs", "what", "remedy", "utc", "worst_ev"} == set(found["warnings"][0])
    assert found["windows"][0]["marks"][0]["exposure"]["label"] == "1/250 s  f/2.8  ISO 100"
    PlanSummary.model_validate(found)


@pytest.mark.parametrize("columns", [45, 80, 120])
@pytest.mark.parametrize("path", PLANS, ids=lambda p: p.stem)
def test_lines_keep_inside_the_terminal(path, columns):
    out = run(str(path), "--date", "2026-12-03", columns=columns).stdout
    assert max(map(len, out.splitlines())) <= columns
    assert out.count("\n\n\n") == 0


def test_the_same_facts_at_every_width():
    wide, narrow = (run(str(QUAY), "--date", "2026-10-03", columns=columns).stdout for columns in (120, 45))

    def figures(text: str) -> set[str]:
        return set(re.findall(r"\d[\d.:]*", text))

    assert figures(narrow) >= figures(wide) - {"0"} - set(re.findall(r"(\d+)  \d+[\d/]* s  f", wide))


# ---- questions


def test_which_interval_for_a_clip():
    out = said(str(QUAY), "--date", "2026-10-03", "--clip", "20s")
    assert "frames, a clip of 20.0 s." in out
    points = json.loads(re.search(r"points = (\[\[.*?\]\])", out)[1])
    assert points[0][0] == 2
    assert points[0][1] == pytest.approx(5.0 * 1136 / 500, rel=0.01)


def test_which_clip_for_an_interval():
    out = said(str(QUAY), "--date", "2026-10-03", "--interval", "10")
    assert 'An interval of 10 s: 954 frames, a clip of 38.2 s. [pace] kind = "steady" interval_s = 10.0' in out


def test_the_latest_stop_for_a_card():
    out = said(str(QUAY), "--date", "2026-10-03", "--card", "9GB")
    assert "9.0 GB hold 300 frames of 30 MB, up to 5 of them test frames: the latest stop is 18:20:38" in out
    assert 'stop = "2026-10-03T18:20:38".' in out
    found = json.loads(run(str(QUAY), "--date", "2026-10-03", "--card", "9GB", "--json").stdout)
    assert found["answer"]["stop_local"].startswith("2026-10-03T18:20:38")


# ---- the rig's own figures


async def keep(directory: Path, **facts: object) -> None:
    async with await Store.open(database_path(directory)) as store:
        await store.put_body(BodySeen(model="Camera One", serial="1", seen_utc=1_796_140_800.0, **facts))


def test_sizes_of_the_body_that_was_seen_last(tmp_path):
    asyncio.run(keep(tmp_path, files="JPG", frame_bytes=8e6, basis="room on the card", frames=40, free_bytes=4e9))
    out = said(str(QUAY), "--date", "2026-10-03", "--dir", str(tmp_path))
    assert "8 MB a frame (Camera One, JPG: by the room that 40 frames took on its card); 4.0 GB free" in out
    assert "Frames may be lost - The card is full at" in out
    assert re.search(r"rig \d+ MB with fetch = preview; [\d.]+ [GT]B free", out)


def test_a_rig_that_saw_no_body_leaves_the_assumption(tmp_path):
    async def empty() -> None:
        async with await Store.open(database_path(tmp_path)):
            pass

    asyncio.run(empty())
    assert "assumed: RAW and JPEG" in said(str(QUAY), "--date", "2026-10-03", "--dir", str(tmp_path))


def test_before_the_first_night_a_rig_tells_the_room_on_its_disk(tmp_path):
    out = said(str(QUAY), "--date", "2026-10-03", "--dir", str(tmp_path))
    assert "assumed: RAW and JPEG" in out
    assert re.search(r"rig \d+ MB with fetch = preview; [\d.]+ [GT]B free", out)
    assert list(tmp_path.iterdir()) == []


def evening(when: str) -> str:
    """The quay's plan with another table [when]."""
    return re.sub(r"(?<=\[when\]\n).*?(?=\n\[)", when + "\n", QUAY.read_text("utf-8"), flags=re.S)


@pytest.mark.parametrize("when", ['start = "18:20"\nstop = "17:20"', 'start = "sunset"\nstop = "sunrise"'])
@pytest.mark.parametrize("every", ["", '\nevery = "day"\nuntil = 2026-10-10'])
def test_a_day_has_the_window_that_starts_on_it_though_the_one_before_is_open_at_midnight(when, every):
    found = json.loads(run("-", "--date", "2026-10-03", "--json", text=evening(when + every)).stdout)
    assert found["windows"][0]["start_local"].startswith("2026-10-03T18:")
    assert found["windows"][0]["end_local"].startswith("2026-10-04T")


def test_an_event_after_midnight_is_asked_for_by_the_day_on_which_it_happens():
    """In Gothenburg's June nautical dusk is after midnight (the almanac of `duskhand sky`)."""
    text = evening('start = "nautical_dusk"\nduration = "30min"')
    found = json.loads(run("-", "--date", "2026-05-20", "--json", text=text).stdout)
    assert found["windows"][0]["start_local"].startswith("2026-05-20T00:")


def test_a_window_by_the_clock_through_night_and_day_is_warned_of():
    out = said("-", "--date", "2026-10-03", text=evening('start = "18:20"\nstop = "17:20"'))
    assert "The window from 18:20 to 17:20 runs through the night until the next day, 23 h." in out
    assert "next day" not in said("-", "--date", "2026-10-03", text=evening('start = "18:20"\nstop = "04:20"'))


def test_a_time_that_the_clock_leaves_out_is_warned_of():
    """Central Europe puts the clock forward on 2027-03-28 from 02:00 to 03:00 (IANA time zone database)."""
    text = evening('start = "02:30"\nduration = "1h"')
    out = said("-", "--date", "2027-03-28", text=text)
    assert "Start = 02:30 does not exist on 2027-03-28, as the clock is put forward: 03:30 is taken." in out
    assert "does not exist" not in said("-", "--date", "2027-03-27", text=text)


def test_a_file_with_a_byte_order_mark(tmp_path):
    path = tmp_path / "marked.toml"
    path.write_text(QUAY.read_text("utf-8"), "utf-8-sig")
    assert run(str(path), "--date", "2026-10-03").returncode == 0


def test_a_window_that_is_over_is_refused_with_its_file_and_its_time(tmp_path):
    path = tmp_path / "past.toml"
    path.write_text(evening('start = "2020-10-03T18:20"\nstop = "2020-10-03T21:00"'), "utf-8")
    done = run(str(path))
    assert done.returncode == 2
    assert done.stderr.startswith(
        f"duskhand plan: {path}: [when] stop: the window is over: it was from 2020-10-03 18:20"
    )
    assert "to 2020-10-03 21:00 (Europe/Stockholm)" in done.stderr


def test_exposures_are_named_alike_in_text_and_table():
    out = said(str(QUAY), "--date", "2026-10-03")
    assert "15 s are allowed" in out
    assert "For less noise use intervals of 17 s from there on (15 s is 16 s in truth)" in out


def test_sizes_beyond_a_terabyte():
    assert "card 2.3 TB for" in said(str(QUAY), "--date", "2026-10-03", "--frame-mb", "2000")


def test_from_standard_input():
    assert run("-", "--date", "2026-10-03", text=QUAY.read_text("utf-8")).returncode == 0


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("latitude = 57.7", "latitude = 95", "[site] latitude: 95 is out of range. Use at most 90"),
        ("fps = 25", "fsp = 25", "[clip] fsp: unknown key. Did you mean fps?"),
        ('"nautical_dusk+30min"', '"sunset-2h"', "[when] stop: sunset-2h is before the start"),
        ("min_gap_s = 1.0", "min_gap_s = 6", "[pace] points: an interval of 5 s is shorter than"),
        ("latitude = 57.7", "latitude = 69.65", "there is no sunset"),
    ],
)
def test_bad_plans_end_with_one_line_and_exit_code_2(old, new, says):
    done = run("-", "--date", "2026-06-21", text=QUAY.read_text("utf-8").replace(old, new))
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert says in done.stderr


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("nowhere.toml",), "nowhere.toml: cannot be read"),
        (("/",), "cannot be read"),
        ((str(QUAY), "--date", "tomorrow"), "--date: 'tomorrow' is no date"),
        ((str(QUAY), "--date", "0001-01-01"), "--date: 0001-01-01 is out of range"),
        ((str(QUAY), "--frame-mb", "-1"), "--frame-mb: -1 MB is no size"),
        ((str(QUAY), "--frame-mb", "nan"), "--frame-mb: nan MB is no size"),
        ((str(QUAY), "--frame-mb", "30,5"), "--frame-mb: '30,5' has a comma. Write 30.5"),
        ((str(QUAY), "--frame-mb", "big"), "--frame-mb: 'big' is no number of this kind. Write it like 30 or 30MB"),
        ((str(QUAY), "--frame-mb", "8s"), "--frame-mb: '8s' is no number of this kind"),
        ((str(QUAY), "--card", "64"), "--card: '64' has no unit. Did you mean 64GB?"),
        ((str(QUAY), "--card", "64G"), "--card: '64G' is no size. Did you mean 64GB?"),
        ((str(QUAY), "--card", "1,5TB"), "--card: '1,5TB' has a comma. Did you mean 1.5TB?"),
        ((str(QUAY), "--card", "big"), "--card: 'big' is no size. Write it like 64GB"),
        ((str(QUAY), "--clip", "0s"), "--clip: 0 s is out of range. Give 0.001"),
        ((str(QUAY), "--clip", "20x"), "--clip: '20x' is no length of time. Write it like 8, 8s or 1min30s; a number"),
        ((str(QUAY), "--clip", "1:30"), "--clip: '1:30' is no length of time. Did you mean 1h30min?"),
        ((str(QUAY), "--interval", "nan"), "--interval: nan s is out of range"),
        ((str(QUAY), "--interval", "5,5"), "--interval: '5,5' has a comma. Write 5.5"),
        ((str(QUAY), "--interval", "0.2s"), "--interval: an interval of 0.2 s is shorter than"),
        ((str(QUAY), "--clip", "3h", "--date", "2026-10-03"), "--clip: no interval makes a clip of 3 h"),
        ((str(QUAY), "--clip", "20s", "--card", "64GB"), "not allowed with"),
        ((str(QUAY), "--dir", "/nowhere"), "--dir /nowhere: there is no such directory. Name the rig's, or leave"),
    ],
)
def test_bad_arguments_end_with_one_line_and_exit_code_2(args, says):
    done = run(*args)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert says in done.stderr


@pytest.mark.parametrize(
    ("option", "one", "other"),
    [
        ("--frame-mb", "30", "30MB"),
        ("--frame-mb", "30", "0.03 GB"),
        ("--clip", "20", "20s"),
        ("--clip", "90", "1min30s"),
        ("--interval", "120", "2 minutes"),
    ],
)
def test_a_number_alone_and_with_its_unit_are_the_same(option, one, other):
    first, second = (run(str(QUAY), "--date", "2026-10-03", option, text) for text in (one, other))
    assert first.returncode == second.returncode == 0, first.stderr + second.stderr
    assert first.stdout == second.stdout


def test_a_plan_that_is_no_text(tmp_path):
    path = tmp_path / "binary.toml"
    path.write_bytes(b"\xff\xfe\x00\x01")
    done = run(str(path))
    assert done.returncode == 2
    assert "not UTF-8" in done.stderr


def test_what_will_be_deleted(tmp_path: Path) -> None:
    text = re.sub(r"(?ms)^\[files\]\n.*?(?=^\[|\Z)", "", QUAY.read_text())
    (plan := tmp_path / "plan.toml").write_text(text + '\n[files]\nfetch = "all"\n')
    assert "deleted" not in said(str(plan))
    plan.write_text(text + '\n[files]\nfetch = "all"\nkeep = "30 days"\nfree_card = "after two copies"\n')
    out = said(str(plan))
    assert "deleted from the rig: whole files older than 30 days, each once it is verified in two second places" in out
    assert "deleted from the camera's card: each fetched frame once it is verified in two places" in out
