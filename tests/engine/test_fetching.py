"""Copies that come more slowly than frames are left in the log, and come in the end; memory stays as it is.

The figures are of Duskhand's own bounds; that a body shoots on while copies wait is common practice, no source.
"""

from __future__ import annotations

import gc
import tracemalloc
from pathlib import Path

import pytest

from controller.camera.messages import Fetched, Trouble
from controller.engine.fetching import AT_ONCE, IN_VAIN
from controller.words.documents import Frame, FrameState
from tests.support.endless import Endless

NOT_OF_THE_ENGINE = [
    tracemalloc.Filter(False, "*/pathlib.py"),  # Python's table of interned names, which doubles now and then
    tracemalloc.Filter(False, "*/rehearsal/*.py"),  # the model camera's table of pictures, filled as the light changes
]


class Slow(Endless):
    """A disk that is full for a while: copies that are asked for wait. `card` refuses every copy where it is False."""

    card = True

    def __init__(self, directory: Path, frames: int, *, full_until: int) -> None:
        super().__init__(directory, frames)
        self._full_until, self.waiting, self.most = full_until, [], 0
        self._took = self.camera.fetch
        self.camera.fetch = self._asked

    async def _asked(self, seq: int, camera_file: str, directory: str, stem: str) -> None:
        self.waiting.append((seq, camera_file, directory, stem))
        await self._go_on()

    async def _heard(self, report):
        if isinstance(report, Fetched) and report.sha256 == "" and self.done < self._full_until:
            self.waiting.append((report.seq, report.camera_file, str(Path(report.path).parent), Path(report.path).stem))
            self.most = max(self.most, len(self.waiting))
            return
        if isinstance(report, Fetched) and not self.card:
            report = Trouble("not-fetched", f"{report.camera_file} was not fetched: i/o", "", report.seq)
        await super()._heard(report)
        await self._go_on()

    async def _go_on(self) -> None:
        while self.waiting and self.done >= self._full_until:
            await self._took(*self.waiting.pop(0))


@pytest.mark.parametrize("many", [3 * AT_ONCE])
def test_what_was_left_while_the_disk_was_full_is_fetched_in_the_end(tmp_path: Path, many: int):
    rig = Slow(tmp_path, many + 50, full_until=many)
    held: list[int] = []
    rig.every(lambda done: held.append(len(rig.run.book.frames)), first=1, then=1)
    rig.shoot()
    assert rig.most == AT_ONCE
    assert max(held) <= AT_ONCE + 30
    counts = rig.counts()
    assert (counts.fetched, counts.written, counts.missed) == (counts.done, 0, 0)


def test_a_card_that_gives_nothing_is_left_alone_until_it_is_opened_anew(tmp_path: Path):
    rig = Slow(tmp_path, 3 * AT_ONCE, full_until=2 * AT_ONCE)
    rig.card = False
    rig.shoot()
    notes = [note.kind for note in rig.notes()]
    assert notes.count("copies-wait") == 1
    assert rig.counts().written == rig.counts().done
    asked_after_the_disk = AT_ONCE + AT_ONCE  # those that waited, and those released since
    assert notes.count("camera-trouble") <= asked_after_the_disk + IN_VAIN


def test_frames_that_are_done_with_leave_nothing_in_memory(tmp_path: Path):
    rig, traced, frames = Endless(tmp_path, 3001), [], []
    others = sum(type(thing) is Frame for thing in gc.get_objects())  # of tests before this one

    def look(done: int) -> None:
        gc.collect()
        if done == 1000:
            tracemalloc.start(1)
        elif done % 1000 == 0:
            snapshot = tracemalloc.take_snapshot().filter_traces(NOT_OF_THE_ENGINE)
            traced.append(sum(trace.size for trace in snapshot.traces))
            frames.append(sum(type(thing) is Frame for thing in gc.get_objects()))

    rig.every(look, first=1, then=1000)
    try:
        rig.shoot()
    finally:
        tracemalloc.stop()
    assert traced[1] - traced[0] < 64 * 1000, "bytes, a thousand frames later"
    assert max(frames) - others < 50
    assert rig.page(2500)[-1].state is FrameState.FETCHED
