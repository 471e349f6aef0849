"""What a start of the rig reads of a log of months, on a machine with little memory and no time to lose."""

from __future__ import annotations

import tracemalloc
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from controller.camera.messages import CardFile
from controller.engine.book import PAGE, Book
from controller.engine.hub import Hub
from controller.engine.passed import LOOKED_AT, NOT_RUNNING, claim_passed
from controller.engine.recovery import Recovery
from controller.store import Store
from controller.words.documents import Frame, FrameState
from tests.store import samples

OUTAGE = 4000
"""Slots that passed while the rig was off, after ten that were shot."""


def path(number: int) -> str:
    return f"/DCIM/100DUSKH/DUSK{number:04d}.JPG"


def shot(seq: int) -> Frame:
    frame = samples.due(seq)
    at = {"released_utc": frame.due_utc, "camera_file": path(seq)}
    return frame.but({"state": FrameState.WRITTEN, "shutter_s": 1.0, **at})


def passed(seq: int) -> Frame:
    return samples.due(seq).but({"state": FrameState.MISSED, "cause": NOT_RUNNING, "shutter_s": 1.0})


def file(seq: int) -> CardFile:
    return CardFile(path(seq), 1000, samples.due(seq).due_utc + 1.0)


class Counted(Store):
    """Counts the rows that are read."""

    rows = calls = 0

    async def frames(self, *args: Any, **more: Any) -> list[Frame]:
        rows = await super().frames(*args, **more)
        self.rows, self.calls = self.rows + len(rows), self.calls + 1
        return rows


@pytest.fixture
async def store(tmp_path: Path):
    async with await Counted.open(tmp_path / "frames.sqlite3") as store:
        await store.add_shoot(samples.shoot())
        yield store


async def booked(store: Store, rows: list[Frame]) -> Book:
    await store.add_missed(rows)
    book = Book(samples.SHOOT, store, Hub("run"), camera=samples.CAMERA)
    await book.load()
    return book


class Run:
    """As much of a run as finding order takes; `card` is what lies on it."""

    def __init__(self, book: Book, card: list[CardFile]) -> None:
        self.book, self._card = book, card
        self.here: dict[int, list[str]] = {}
        self.shoot = SimpleNamespace(id=samples.SHOOT)
        self.clock = SimpleNamespace(utc=lambda: samples.START + 1e6, mono=lambda: 0.0, rate=1.0)
        self.camera = SimpleNamespace(opened=object(), files=self.files, id=samples.CAMERA)
        fetching = SimpleNamespace(ask=self.ask)
        self.reports = SimpleNamespace(gone_cause=None, on_card=self.on_card, fetching=fetching)
        self.recovery = Recovery(self)  # type: ignore[arg-type]

    async def files(self, fresh: bool = False) -> list[CardFile]:
        return self._card

    async def ask(self, frame: Frame) -> None: ...

    async def on_card(self, seq: int, paths: list[str], **more: Any) -> None:
        self.here[seq] = paths
        self.recovery.ashore(seq)


async def test_how_far_a_window_has_come_is_read_from_its_end(store: Counted) -> None:
    book = await booked(store, [shot(seq) for seq in range(1, 4001)])
    begun = samples.due(3996).due_utc
    assert await book.done_since(begun) == 5
    assert store.rows <= 2 * PAGE
    assert await book.done_since(samples.due(1501).due_utc) == 2500
    assert await book.done_since(0.0) == 4000


async def test_slots_without_a_frame_do_not_end_the_count(store: Counted) -> None:
    """A window whose middle passed unshot, and a clock that was put back over a few slots."""
    rows = [shot(seq) for seq in range(1, 1001)] + [passed(seq) for seq in range(1001, 3501)]
    rows += [shot(seq) if seq != 3550 else shot(seq).but({"due_utc": 0.0}) for seq in range(3501, 3601)]
    book = await booked(store, rows)
    assert await book.done_since(samples.due(901).due_utc) == 199


async def test_an_outage_of_days_is_not_read_row_by_row_for_a_frame_in_hand(store: Counted) -> None:
    """The power went while a frame was exposed; of the slots since, no row names a file."""
    in_hand = samples.due(11).but({"state": FrameState.RELEASED, "released_utc": samples.due(11).due_utc})
    rows = [*map(shot, range(1, 11)), in_hand, *map(passed, range(12, OUTAGE))]
    book = await booked(store, rows)
    run = Run(book, [file(seq) for seq in range(1, 12)])
    run.recovery.set_adrift()
    await run.recovery._look(fresh=True)
    assert run.here == {11: [path(11)]}
    assert store.rows <= 20


async def test_a_file_of_no_slot_does_not_have_the_season_read_for_a_frame_that_was_lost_at_its_beginning(
    store: Counted,
) -> None:
    last = LOOKED_AT + 500
    book = await booked(store, [*map(shot, range(1, 11)), *map(shot, range(last - 200, last + 1))])
    for seq in (3, last - 1):
        book.lately_lost.append(shot(seq).but({"state": FrameState.LOST, "camera_file": None}))
    run = Run(book, [])
    unknown = CardFile("/DCIM/999DUSKH/HAND0001.JPG", 1000, samples.START)
    await run.recovery._claim_late([SimpleNamespace(files=(unknown,), paths=[unknown.path], mtime_utc=0.0)], [unknown])  # type: ignore[list-item]
    assert store.rows <= 202


async def test_of_slots_that_passed_only_those_near_a_file_are_kept_in_memory(store: Counted) -> None:
    rows = [*map(shot, range(1, 11)), *map(passed, range(11, OUTAGE)), shot(OUTAGE)]
    book = await booked(store, rows)
    run = Run(book, [file(seq) for seq in (*range(1, 14), OUTAGE)])  # three were shot while the log took nothing
    tracemalloc.start()
    assert await claim_passed(run, 10, None) == []  # type: ignore[arg-type]
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert run.here == {seq: [path(seq)] for seq in (11, 12, 13)}
    assert peak < 2 * PAGE * 2000  # two pages, and not all four


async def test_a_row_takes_no_more_than_its_values(store: Counted) -> None:
    """A set of names of its own would take as much again, of each row of a long log."""
    await booked(store, [shot(seq) for seq in range(1, 501)])
    tracemalloc.start()
    rows = await store.frames(samples.SHOOT, 0, 500)
    size = tracemalloc.get_traced_memory()[0] / len(rows)
    tracemalloc.stop()
    assert size < 2600  # bytes
    assert rows[0].model_dump() == Frame(**rows[0].model_dump()).model_dump()
