"""The card's listing for the daemon: what it may give to slots, and nothing else."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

from controller.camera.messages import CardFile, Files, Released, Written
from controller.camera.worker.frames import Frames
from controller.camera.worker.listing import Listing
from controller.camera.worker.session import Event, FileInfo
from tests.camera.test_roll import order, path

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
