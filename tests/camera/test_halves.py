"""A pair of files of which a new session shows one only, before a body that this test plays."""

from __future__ import annotations

import time
from types import SimpleNamespace
from typing import Any

from controller.camera.messages import Release, Released, Report, Written
from controller.camera.worker.frames import Frames
from controller.camera.worker.session import Event

FOLDER = "/store_00010001/DCIM/100DUSKH"


def pair(n: int) -> list[str]:
    return [f"{FOLDER}/DUSK{n:04d}.JPG", f"{FOLDER}/DUSK{n:04d}.DNG"]


class Played:
    """`lists` is what a new session finds on the card."""

    def __init__(self) -> None:
        self.said: list[Report] = []
        self.session: Any = SimpleNamespace(info=lambda path: SimpleNamespace(size=1, mtime_s=None))
        self.frames = Frames(self.said.append, None, self.body([]))  # type: ignore[arg-type]

    def body(self, lists: list[str]) -> Any:
        return SimpleNamespace(take_files=lambda: lists, clock_s=None, opened_mono=0.0, session=self.session)

    def release(self, seq: int) -> None:
        order = Release(seq, 0.0, 0.0, 0.01, 2.8, 100.0, 0.01, "none", "", "")
        at_mono = time.monotonic() - 0.02  # its exposure is over
        self.frames.released(order, at_mono, Released(seq, at_mono, 0.0, 0.0), False)

    def tell(self, event: Event) -> None:
        self.frames.told(event, self.session, time.monotonic())

    def written(self) -> list[tuple[int, list[str]]]:
        return [(report.seq, report.camera_files) for report in self.said if isinstance(report, Written)]


def test_what_a_body_tells_later_does_not_end_the_wait_for_the_other_half() -> None:
    later = [Event("complete")], [Event("file", path) for path in pair(3)]
    for events in later:
        played = Played()
        played.release(1)
        for path in pair(1):
            played.tell(Event("file", path))
        played.release(2)
        played.frames.look(played.body([*pair(1), pair(2)[0]]))
        if len(events) > 1:
            played.release(3)
        for event in events:
            played.tell(event)
        played.frames.look(played.body([*pair(1), *pair(2)]))
        assert (2, pair(2)) in played.written()
        assert (2, pair(2)[:1]) not in played.written()
