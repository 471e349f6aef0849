"""The process that makes a film: behind everything else, stopped and ended at will. Seen through /proc (proc(5))."""

from __future__ import annotations

import asyncio
import os
import subprocess
from pathlib import Path
from typing import Any

import pytest

from controller.aside.clip import small
from controller.aside.clip_process import ClipProcess
from controller.results.report.clips import clips
from controller.store import Store
from controller.store.files import database_path
from controller.words.documents import Frame
from controller.words.errors import BadInput, StoreError
from controller.words.layout import clips_directory
from tests.results.dusk import SHOOT, shoot
from tests.results.nights import dusk, row


async def task(directory: Path, count: int = 25, **more: Any) -> dict[str, Any]:
    frames = dusk(count).save(directory, (160, 108)) if count else []
    async with await Store.open(database_path(directory)) as store:
        await store.add_shoot(shoot(frames))
        await store.add_missed(frames)
    options = {"fps": 25, "camera": None}
    return {
        "directory": str(directory), "shoot": SHOOT, "camera": None, "after_seq": 0, "last_seq": None,
        "since_utc": None, "until_utc": None, "options": options, "asked": {}, "out": str(directory / "a.mp4"),
        "small": False, "keep_work": False, **more,
    }  # fmt: skip


def state(pid: int) -> str:
    """Such as R, S or T (stopped)."""
    return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]


def disk_class(pid: int) -> str:
    """By util-linux."""
    return subprocess.run(["ionice", "-p", str(pid)], capture_output=True, text=True, check=True).stdout.strip()


def there(pid: int) -> bool:
    return Path(f"/proc/{pid}").exists()


async def until(condition: Any, seconds: float = 120.0) -> None:
    async with asyncio.timeout(seconds):
        while not condition():
            await asyncio.sleep(0.02)


async def test_it_steps_back_stands_still_and_goes_on(tmp_path: Path) -> None:
    process, told = ClipProcess(), []
    making = asyncio.create_task(process.make(await task(tmp_path), told.append))
    await until(lambda: process._process is not None)
    assert process._process is not None
    pid = process._process.pid
    await until(lambda: os.getpriority(os.PRIO_PROCESS, pid) == 15)
    await until(lambda: Path(f"/proc/{pid}/oom_score_adj").read_text() == "1000\n")
    process.pause(True)
    await until(lambda: state(pid) == "T")
    assert len(os.sched_getaffinity(pid)) == 1
    assert disk_class(pid) == "idle"
    assert process.paused
    process.pause(False)
    came = await making
    assert (came["frames"], came["missing"], process.paused) == (25, 0, False)
    assert (tmp_path / "a.mp4").stat().st_size == came["bytes"]
    assert told == sorted(told)


async def test_whoever_gives_up_ends_it(tmp_path: Path) -> None:
    process = ClipProcess()
    making = asyncio.create_task(process.make(await task(tmp_path), lambda share: None))
    await until(lambda: process._process is not None)
    assert process._process is not None
    pid = process._process.pid
    process.pause(True)
    making.cancel()
    with pytest.raises(asyncio.CancelledError):
        await making
    assert not there(pid)
    assert not (tmp_path / "a.mp4").exists()


async def test_what_it_cannot_do_comes_back_in_words(tmp_path: Path) -> None:
    process = ClipProcess()
    with pytest.raises(BadInput, match="no frame has been released yet"):
        await process.make(await task(tmp_path, 0), lambda share: None)
    broken = {"directory": str(tmp_path)}  # a fault of ours
    with pytest.raises(StoreError, match="ended in the middle of it"):
        await process.make(broken, lambda share: None)


async def test_slots_are_those_of_the_window(tmp_path: Path) -> None:
    wanted = await task(tmp_path, 30)
    begin = dusk(30).save(tmp_path, (160, 108))[9].due_utc
    window = {"after_seq": 3, "last_seq": 24, "since_utc": begin, "until_utc": begin + 10 * 5.0}
    came = await ClipProcess().make(wanted | window, lambda share: None)
    assert came["frames"] == 10  # slots 10 to 19: the one that is due at the end is the next window's


async def test_what_was_told_of_a_film_stands_beside_it_for_the_report(tmp_path: Path) -> None:
    place = tmp_path / clips_directory(SHOOT)
    place.mkdir(parents=True)
    for name, options in (("steadied", {}), ("plain", {"steady": "off"})):
        wanted = await task(tmp_path / name, 30)
        out = place / f"{name}.mp4"
        await ClipProcess().make(wanted | {"out": str(out), "options": {"fps": 25} | options}, lambda share: None)
    plain, steadied = clips(tmp_path, SHOOT)
    assert plain.after is not None
    assert steadied.before is not None
    assert steadied.after is not None
    assert (plain.steadied, steadied.steadied) == (False, True)
    assert steadied.after.largest_step_ev < 0.5 * steadied.before.largest_step_ev
    assert plain.after.largest_step_ev == pytest.approx(steadied.before.largest_step_ev, rel=0.1)


def test_a_small_film_is_thinned_to_half_a_minute() -> None:
    frames: list[Frame] = [row(seq, preview=seq % 3 > 0, local_file="a.jpg") for seq in range(1, 6001)]
    shown = small(shoot(frames), frames)
    assert 600 <= len(shown) <= 751
    assert (shown[0].seq, shown[-1].seq) == (1, 6000 - 1)
    assert all(frame.local_file is None and frame.preview for frame in shown)
    assert small(shoot(frames), frames[:5]) == [
        f.model_copy(update={"local_file": None}) for f in frames[:5] if f.preview
    ]
    assert small(shoot([]), []) == []
