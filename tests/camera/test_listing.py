"""The card's listing for the daemon: what it may give to slots, and nothing else."""

from __future__ import annotations

import asyncio
import time
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from controller.camera.messages import CardFile, Files, Released, Written
from controller.camera.worker.frames import Frames
from controller.camera.worker.listing import Listing
from controller.camera.worker.session import Event, FileInfo
from tests.camera.ear import connected
from tests.camera.ear import order as order_of
from tests.camera.test_roll import order, path
from tests.support.simcam import start_simulated_camera

OLD, NEW = path(1), path(2)


class Card:
    """A session that lists what the library knows of."""

    def __init__(self, paths: list[str]) -> None:
        self.paths = paths

    def walk(self) -> list[str]:
        return self.paths

    def info(self, _: str) -> FileInfo:
        return FileInfo(1000, 5.0)


def listed(frames: Frames, card: Any) -> list[CardFile]:
    listing = Listing(1, False, frames.is_told)
    while not isinstance(answer := listing.step(card), Files):
        pass
    return answer.files


def test_a_file_is_listed_once_it_is_told_whose_it_is() -> None:
    """libgphoto2 hears of files in other calls than that for events, and lists them from then on."""
    told: list[object] = []
    body = SimpleNamespace(take_files=lambda: [OLD], clock_s=None, opened_mono=0.0)
    frames, card = Frames(told.append, None, body), Card([OLD])  # type: ignore[arg-type]
    frames.released(replace(order(1), fetch="none"), 10.0, Released(1, 10.0, 0.2), False)
    assert [file.path for file in listed(frames, card)] == [OLD]
    card.paths = [OLD, NEW]
    assert [file.path for file in listed(frames, card)] == [OLD]
    frames.told(Event("file", NEW), card, 10.4)  # type: ignore[arg-type]
    assert not any(isinstance(report, Written) for report in told)  # a second file may come
    assert [file.path for file in listed(frames, card)] == [OLD]
    frames.quiet(11.5)
    assert told[-1] == Written(1, [NEW], 10.4)
    assert [file.path for file in listed(frames, card)] == [OLD, NEW]


async def test_a_listing_comes_after_the_frames_whose_files_are_in_it(tmp_path: Path) -> None:
    """However long who listens takes over each report: else the file of a frame just told is taken for nobody's."""
    heard: list[object] = []

    async def slow(report: object) -> None:
        await asyncio.sleep(0.5)
        heard.append(report)

    with start_simulated_camera(tmp_path) as camera:
        async with connected(camera.address) as (link, _):
            link.listen(slow)
            await link.release(order_of(1, time.monotonic() + 0.3, tmp_path, shutter_s=1 / 64, fetch="none"))
            while not (files := await link.files()):
                await asyncio.sleep(0.05)
            assert [report.camera_files for report in heard if isinstance(report, Written)] == [[files[0].path]]


def test_the_second_file_of_a_pair_that_was_written_during_a_look_is_looked_for() -> None:
    """A pair found by a new session is on the card in halves for a moment, and of the rest nobody is told."""
    told: list[Any] = []
    raw = path(3, "DNG")
    session = Card([])

    def body(*files: str) -> Any:
        return SimpleNamespace(take_files=lambda: list(files), clock_s=None, opened_mono=0.0, session=session)

    frames = Frames(told.append, None, body())  # type: ignore[arg-type]
    early = time.monotonic() - 100.0
    for n, at_mono in ((1, early), (2, early + 10.0)):
        frames.released(replace(order(n), fetch="none"), at_mono, Released(n, at_mono, 0.2), False)
        for file in (path(n), path(n, "DNG")):
            frames.told(Event("file", file), session, at_mono + 1.0)  # type: ignore[arg-type]
    frames.quiet(early + 20.0)
    frames.released(replace(order(3), fetch="none"), early + 30.0, Released(3, early + 30.0, 0.2), False)
    frames.look(body(path(3)))
    now = time.monotonic()
    frames.quiet(now + 0.8)
    assert not [each for each in told if isinstance(each, Written) and each.seq == 3]
    assert not frames.missing(now + 0.5, False)
    assert frames.missing(now + 1.5, False)
    frames.look(body(path(3), raw))
    assert told[-1].camera_files == [path(3), raw]
    assert frames.whole


def test_a_look_tells_of_every_frame_however_many_waited() -> None:
    """A body that told of no file while there was no time to look; all of them are on the card."""
    told: list[Any] = []
    session, count, early = Card([]), 200, time.monotonic() - 1000.0

    def body(*files: str) -> Any:
        return SimpleNamespace(take_files=lambda: list(files), clock_s=None, opened_mono=0.0, session=session)

    frames = Frames(told.append, None, body())  # type: ignore[arg-type]
    for n in range(1, count + 1):
        at_mono = early + 3.0 * n
        frames.released(replace(order(n), fetch="none"), at_mono, Released(n, at_mono, 0.2), False)
    frames.look(body(*(path(n) for n in range(1, count + 1))))
    written = [report for report in told if isinstance(report, Written)]
    assert [(each.seq, each.camera_files) for each in written] == [(n, [path(n)]) for n in range(1, count + 1)]
    assert frames.whole
