"""Releases that the library says went well while the body took no frame.

libgphoto2 2.5.30 (camlibs/ptp2/library.c, camera_trigger_capture): a Nikon that answers busy is asked 201 times, 2 ms
apart, and then all is said to be well. That 2.5.34 does the same is seen here, through the library itself.
"""

from __future__ import annotations

import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from controller.camera.messages import TOOK_NONE, Missed, Released, Trouble, Written
from controller.camera.worker.doubt import Doubt, Doubts
from controller.camera.worker.frames import Frames
from controller.camera.worker.roll import CardEntry, Roll
from tests.camera.ear import connected, order
from tests.camera.test_roll import order as of_shutter
from tests.camera.test_roll import path
from tests.support.simcam import start_simulated_camera


def name(file: str) -> str:
    return file.rpartition("/")[2]


async def test_a_release_in_vain_is_no_frame(tmp_path: Path) -> None:
    """The slot is missed and says why, the next file is the next frame's, and while there is time it is tried again."""
    with start_simulated_camera(tmp_path, maker="nikon", epoch_utc="2026-10-20T16:20:00Z") as camera:
        async with connected(camera.address) as (link, ear):

            async def frame(seq: int, patience_s: float) -> None:
                due = time.monotonic() + 0.3
                changes = {"shutter_s": 1 / 64, "fetch": "none", "latest_mono": due + patience_s}
                await link.release(order(seq, due, tmp_path, **changes))
                await ear.until(lambda: seq in ear.of(Written) or seq in ear.of(Missed))

            await frame(1, 20.0)
            camera.control("fault", word="busy(1000)")
            await frame(2, 0.4)
            await frame(3, 0.4)
            camera.control("fault", word="ok")
            await frame(4, 20.0)
            camera.control("fault", word="busy(3)")
            await frame(5, 60.0)
        record = camera.record()
    assert {seq: told.cause for seq, told in ear.of(Missed).items()} == {2: TOOK_NONE, 3: TOOK_NONE}
    assert [told.seq for told in ear.all(Released)] == [1, 4, 5]
    files = {seq: name(written.camera_files[0]) for seq, written in ear.of(Written).items()}
    assert files == {seq: name(shot["files"][0]) for seq, shot in zip((1, 4, 5), record, strict=True)}
    assert not ear.all(Trouble)


async def test_an_answer_that_was_only_slow_is_told_with_its_file(tmp_path: Path) -> None:
    """As after many tries of which the last one took the frame; and a body that is always so slow is not doubted."""
    script = "ok*2 " + "refuse(device_busy)*150 late(0.6) " * 4
    with start_simulated_camera(tmp_path, maker="nikon", faults=script, epoch_utc="2026-10-20T16:20:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            for seq in range(1, 7):
                changes = {"shutter_s": 1 / 64, "fetch": "none", "latest_mono": time.monotonic() + 60.0}
                await link.release(order(seq, time.monotonic() + 0.3, tmp_path, **changes))
                await ear.until(lambda seq=seq: seq in ear.of(Written))
        record = camera.record()
    assert not ear.all(Missed)
    assert [told.seq for told in ear.all(Released)] == list(range(1, 7))
    assert [name(ear.of(Written)[n + 1].camera_files[0]) for n in range(6)] == [name(s["files"][0]) for s in record]


@pytest.mark.parametrize(
    ("call_s", "exposure_s", "doubted"),
    [
        (0.11, 0.02, False),
        (0.39, 0.02, False),  # 201 times 2 ms are not over
        (0.46, 0.02, True),
        (0.46, 20.0, True),  # before such an exposure can be over
        (20.1, 20.0, False),
        (0.15, 20.0, False),  # a body that does not say that it exposes
        (2.5, 0.02, True),
    ],
)
def test_which_answers_are_doubted(call_s: float, exposure_s: float, doubted: bool) -> None:
    assert Doubts().arise(call_s, exposure_s) == doubted


def test_a_body_that_always_answers_so_is_not_doubted_for_long() -> None:
    doubts, roll = Doubts(), Roll()
    shot = roll.released(of_shutter(1), 10.0, 11.5)
    doubts.settle(Doubt(shot.order, shot, 1.5, 12.0))  # in vain
    roll.added(CardEntry(path(1), None, 11.6))
    for _ in range(3):
        assert doubts.arise(1.5, 0.2)
        doubts.settle(Doubt(shot.order, shot, 1.5, 12.0))
    assert not doubts.arise(1.5, 0.2)
    assert doubts.arise(1.9, 0.2)


def test_nor_one_that_always_answers_long_before_the_exposure_ends() -> None:
    doubts, roll = Doubts(), Roll()
    shot = roll.released(of_shutter(1, 4.0), 10.0, 10.5)
    roll.added(CardEntry(path(1), None, 14.6))
    for _ in range(3):
        assert doubts.arise(0.5, 4.0)
        doubts.settle(Doubt(shot.order, shot, 0.5, 15.0))
    assert not doubts.arise(0.5, 4.0)
    assert not doubts.arise(4.2, 4.0)  # what is usual stays so
    assert doubts.arise(0.45, 4.0)


def test_files_pass_a_release_by_that_was_perhaps_in_vain() -> None:
    roll = Roll()
    first = roll.released(of_shutter(1), 10.0)
    assert roll.added(CardEntry(path(1), None, 10.3)) is first
    doubted, *sure = [roll.released(of_shutter(n), 10.0 + 0.4 * n) for n in (2, 3, 4)]
    doubted.doubtful = True
    assert [roll.added(CardEntry(path(n), None, 11.0 + n)) for n in (2, 3)] == sure
    assert roll.pending == [doubted]
    fresh = roll.released(of_shutter(5), 20.0)
    assert roll.added(CardEntry(path(4), None, 20.3)) is fresh


def test_a_listing_passes_it_by_too() -> None:
    roll = Roll()
    shots = [roll.released(of_shutter(n), 10.0 + 0.4 * n) for n in (1, 2, 3)]
    shots[1].doubtful = True
    assert roll.found([CardEntry(path(n), None, 15.0) for n in (1, 2)]) == [shots[0], shots[2]]


def test_what_is_told_of_a_release_in_doubt() -> None:
    """At once what is sure; what is not with its file, or where earlier frames lack theirs: nothing is proven then."""
    told: list[object] = []
    body = SimpleNamespace(take_files=list, clock_s=None, opened_mono=0.0)
    frames = Frames(told.append, None, body)  # type: ignore[arg-type]
    sayings = [Released(n, 10.0 * n, 0.5) for n in (1, 2, 3)]
    frames.released(of_shutter(1), 10.0, sayings[0], False)
    second = frames.released(of_shutter(2), 20.0, sayings[1], True)
    assert told == sayings[:1]
    assert not frames.untaken(second)
    assert told == sayings[:2]
    alone = Frames(told.append, None, body)  # type: ignore[arg-type]
    third = alone.released(of_shutter(3), 30.0, sayings[2], True)
    assert alone.untaken(third)
    assert told == sayings[:2]


def test_a_release_that_took_nothing_counts_in_no_number() -> None:
    roll = Roll()
    first = roll.released(of_shutter(1), 10.0)
    roll.added(CardEntry(path(1), None, 10.3))
    roll.untaken(roll.released(of_shutter(2), 11.0))
    shots = [roll.released(of_shutter(n), 10.0 + 0.4 * n) for n in (3, 4)]
    assert [roll.added(CardEntry(path(n), None, 12.5)) for n in (3, 2)] == [shots[1], shots[0]]
    assert first.files == [path(1)]
