"""A make that is killed, interrupted or out of room goes on where it was, and gives the same film in the end."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from controller.results.clip.make import ClipResult, make_clip
from controller.results.clip.options import clip_options
from controller.results.clip.sidecar import read_gains_json
from controller.results.clip.work import Work
from controller.words.documents import Frame
from controller.words.errors import Conflict
from tests.results.dusk import SHOOT, shoot
from tests.results.films import frames
from tests.results.nights import row

COUNT = 44
FPS = 2  # a part is four seconds: eight frames
PARTS = 6
SIZE = (256, 96)
"""Sixteen macroblocks wide. With a row that is no multiple of that, x264 (build 165) does not come to the same film
twice on a processor with AVX-512, of the same pictures; without its assembler it does. Found by trying."""


def rows(count: int = COUNT) -> list[Frame]:
    return [
        row(seq, local_file=f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg", exposure_ev=-(seq // 5) / 3)
        for seq in range(1, count + 1)
    ]


def file_of(directory: Path, slot: Frame) -> Path:
    assert slot.local_file is not None
    return directory / slot.local_file


def night(directory: Path, count: int = COUNT, noise: int = 40) -> list[Frame]:
    """Pictures that differ from each other, with noise that takes room."""
    slots = rows(count)
    dice = np.random.default_rng(3)
    y = np.linspace(30, 200, SIZE[1])[:, None, None]
    for slot in slots:
        path = file_of(directory, slot)
        path.parent.mkdir(parents=True, exist_ok=True)
        light = y + dice.integers(-noise, noise + 1, (SIZE[1], SIZE[0], 3)) + 4 * (slot.seq % 5)
        Image.fromarray(light.clip(0, 255).astype(np.uint8)).save(path, quality=92)
    return slots


def clip(directory: Path, slots: list[Frame], out: Path, **given: Any) -> tuple[ClipResult, list[int]]:
    """And how far the work was, each time that it told so."""
    seen: list[int] = []
    keep = given.pop("keep_work", False)
    options = clip_options(**{"fps": FPS, **given})
    made = make_clip(shoot(slots), slots, directory, out, options, lambda done, of: seen.append(done), keep_work=keep)
    return made, seen


def same(one: Path, other: Path) -> bool:
    """Decoded, frame by frame."""
    return all(np.array_equal(a, b) for a, b in zip(frames(one), frames(other), strict=True))


def work_of(out: Path) -> Path:
    return out.with_name(f".{out.name}.work")


_KILLED = """
import os, signal, sys
from pathlib import Path
from tests.results.test_clip_parts import FPS, make_clip, clip_options, rows, shoot
directory, out, at = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
def progress(done, of):
    if done == at:
        os.kill(os.getpid(), signal.SIGKILL)
make_clip(shoot(rows()), rows(), directory, out, clip_options(fps=FPS), progress)
"""


def test_a_killed_make_goes_on(tmp_path: Path) -> None:
    """Killed in the first pass, twice in the midst of a part, then left to its end."""
    slots = night(tmp_path)
    whole, _ = clip(tmp_path, slots, tmp_path / "whole.mp4")
    out = tmp_path / "killed.mp4"
    out.write_bytes(b"old")
    parts = []
    for at in (20, COUNT + 13, COUNT + 30):
        command = [sys.executable, "-c", _KILLED, str(tmp_path), str(out), str(at)]
        assert subprocess.run(command, check=False).returncode == -signal.SIGKILL
        assert out.read_bytes() == b"old"
        parts.append({path: path.stat().st_mtime_ns for path in work_of(out).glob("*.mp4")})
    assert [len(found) for found in parts] == [0, 1, 3]
    assert parts[0].items() <= parts[1].items() <= parts[2].items()
    made, seen = clip(tmp_path, slots, out)
    assert COUNT + 24 in seen  # three parts were there,
    assert not {*range(COUNT + 1, COUNT + 8), *range(COUNT + 17, COUNT + 24)} & set(seen)  # and were not drawn again
    assert same(tmp_path / "whole.mp4", out)
    assert made.model_copy(update={"out": whole.out, "bytes": whole.bytes}) == whole
    assert not work_of(out).exists()
    assert list(tmp_path.glob(".*")) == []


def test_what_was_measured_is_not_measured_again(tmp_path: Path) -> None:
    slots = night(tmp_path, 12)
    out = tmp_path / "clip.mp4"
    made, _ = clip(tmp_path, slots, out, keep_work=True)
    for slot in slots:  # same size and same moment: what is known of them holds
        path = file_of(tmp_path, slot)
        state = path.stat()
        path.write_bytes(bytes(state.st_size))
        os.utime(path, ns=(state.st_atime_ns, state.st_mtime_ns))
    again, _ = clip(tmp_path, slots, out, keep_work=True)
    assert again == made


def test_a_longer_film_of_the_same_pictures_draws_what_is_new(tmp_path: Path) -> None:
    slots = night(tmp_path)
    out = tmp_path / "clip.mp4"
    clip(tmp_path, slots[:40], out, keep_work=True, steady="off")
    old = {path: path.stat().st_mtime_ns for path in work_of(out).glob("*.mp4")}
    assert len(old) == 5
    clip(tmp_path, slots, out, keep_work=True, steady="off")
    new = {path: path.stat().st_mtime_ns for path in work_of(out).glob("*.mp4")}
    assert old.items() <= new.items()
    assert len(new) == PARTS
    clip(tmp_path, slots, tmp_path / "whole.mp4", steady="off")
    assert same(out, tmp_path / "whole.mp4")


@pytest.mark.parametrize("change", ["picture", "crop", "codec"])
def test_parts_that_are_no_longer_right_are_made_anew_and_cleared_away(tmp_path: Path, change: str) -> None:
    slots = night(tmp_path, 24)
    out = tmp_path / "clip.mp4"
    clip(tmp_path, slots, out, keep_work=True, steady="off")
    old = {path.name for path in work_of(out).glob("*.mp4")}
    given: dict[str, Any] = {}
    if change == "picture":
        Image.new("RGB", SIZE, (200, 0, 0)).save(file_of(tmp_path, slots[10]))
    else:
        given = {"crop": {"x": 0, "y": 0, "w": 1, "h": 0.5}} if change == "crop" else {"codec": "hevc"}
    clip(tmp_path, slots, out, keep_work=True, steady="off", **given)
    new = {path.name for path in work_of(out).glob("*.mp4")}
    assert len(old & new) == (2 if change == "picture" else 0)
    assert len(new) == 3
    clip(tmp_path, slots, tmp_path / "fresh.mp4", steady="off", **given)
    assert same(out, tmp_path / "fresh.mp4")


def test_what_a_fault_left_in_the_work_directory_does_no_harm(tmp_path: Path) -> None:
    slots = night(tmp_path, 24)
    out = tmp_path / "clip.mp4"
    clip(tmp_path, slots, out, keep_work=True)
    work = work_of(out)
    (work / "looks.sqlite3").write_bytes(b"no database at all, but long enough to look like one" * 100)
    first, second, _ = sorted(work.glob("*.mp4"))
    first.write_bytes(b"")
    second.with_suffix(".json").write_text("{")
    (work / f".{second.name}.part").write_bytes(b"half")
    clip(tmp_path, slots, out, keep_work=True)
    clip(tmp_path, slots, tmp_path / "fresh.mp4")
    assert same(out, tmp_path / "fresh.mp4")
    assert not list(work.glob(".*"))


def test_the_gains_stand_beside_a_steadied_film(tmp_path: Path) -> None:
    slots = night(tmp_path, 12)
    clip(tmp_path, slots, tmp_path / "off.mp4", steady="off")
    assert not list(tmp_path.glob("*.gains.*"))
    clip(tmp_path, slots, tmp_path / "clip.mp4")
    rows = read_gains_json(tmp_path / "clip.gains.json").frames
    assert [one.seq for one in rows] == list(range(1, 13))
    assert rows[5].exposure_ev == pytest.approx(-1 / 3)
    assert (tmp_path / "clip.gains.csv").read_text().count("\n") == 13
    clip(tmp_path, slots, tmp_path / "clip.mp4", steady="off")
    assert not list(tmp_path.glob("*.gains.*"))  # they were another film's


def test_one_make_of_a_clip_at_a_time(tmp_path: Path) -> None:
    slots = night(tmp_path, 3)
    with Work(tmp_path / "clip.mp4"), pytest.raises(Conflict, match="is being made already"):
        clip(tmp_path, slots, tmp_path / "clip.mp4")
    clip(tmp_path, slots, tmp_path / "clip.mp4")


_FULL = """
import json, shutil, subprocess, sys
from pathlib import Path
from tests.results.test_clip_parts import FPS, SIZE, make_clip, clip_options, rows, shoot
from tests.support.loop_disk import alone
directory, how = Path(sys.argv[1]), sys.argv[2]
disk, room = directory / "disk", 1_400_000 if how == "small" else 30_000_000
disk.mkdir()
try:
    alone()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={room}", "tmpfs", disk], check=True, capture_output=True)
except (OSError, subprocess.CalledProcessError) as error:
    print("no disk of its own for this user:", error)
    sys.exit(77)
if how == "replaced":
    (disk / "clip.mp4").write_bytes(b"old")
def progress(done, of):
    if how != "small" and done == len(rows()) + 29:
        with (disk / "other").open("wb") as file:
            file.write(bytes(shutil.disk_usage(disk).free))
def make():
    options = clip_options(fps=FPS, steady="off")
    made = make_clip(shoot(rows()), rows(), directory, disk / "clip.mp4", options, progress)
    shutil.copy(made.out, directory)
    return made.model_dump(mode="json")
first = make()
shutil.copy(disk / "clip.mp4", directory / "then.mp4")
made = sorted((disk / ".clip.mp4.work").glob("*.mp4"))
assert make() == first  # no room yet: the film stands, the gap is told again,
assert made == sorted((disk / ".clip.mp4.work").glob("*.mp4"))  # and nothing that is done is lost
if how == "small":
    subprocess.run(["mount", "-o", "remount,size=30000000", disk], check=True)
else:
    (disk / "other").unlink()
how = "small"
second = make()
print(json.dumps([first, second, sorted(path.name for path in disk.iterdir())]))
"""


@pytest.mark.parametrize("how", ["small", "filled", "replaced"])
def test_a_disk_that_fills_up_in_the_midst(tmp_path: Path, how: str) -> None:
    """Too small from the start, or filled to the last byte by something else; a whole old film is not given up."""
    slots = night(tmp_path, noise=100)
    command = [sys.executable, "-c", _FULL, str(tmp_path), how]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode == 77:
        pytest.skip(done.stdout)
    assert done.stderr == ""
    first, second, left = json.loads(done.stdout)
    name = "clip-unfinished.mp4" if how == "replaced" else "clip.mp4"
    assert first["out"] == str(tmp_path / "disk" / name)
    assert first["unfinished"] is not None
    there = tmp_path / ("clip-unfinished.mp4" if how == "replaced" else "then.mp4")
    shown = sum(1 for _ in frames(there))
    assert shown == first["frames"] in (8, 16, 24, 32)
    (gap,) = first["gaps"]
    assert (gap["first_seq"], gap["last_seq"], gap["slots"]) == (shown + 1, COUNT, COUNT - shown)
    assert gap["text"].endswith(" on (no room was left on the disk)")
    assert (tmp_path / "then.mp4").read_bytes() == b"old" or how != "replaced"
    assert (second["frames"], second["gaps"], second["unfinished"]) == (COUNT, [], None)
    clip(tmp_path, slots, tmp_path / "whole.mp4", steady="off")
    assert same(tmp_path / "clip.mp4", tmp_path / "whole.mp4")
    assert left == (["clip-unfinished.mp4", "clip.mp4"] if how == "replaced" else ["clip.mp4"])
