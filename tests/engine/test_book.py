"""The book against the real log, and what becomes of entries that the log cannot take."""

import asyncio
import threading
from pathlib import Path

import pytest

from controller.engine import writing
from controller.engine.book import Book
from controller.engine.hub import Hub
from controller.engine.passed import NOT_RUNNING
from controller.store import Store
from controller.words.documents import FrameState
from tests.store import samples


@pytest.fixture
async def store(tmp_path: Path):
    async with await Store.open(tmp_path / "frames.sqlite3") as store:
        await store.add_shoot(samples.shoot())
        yield store


async def allow_pages(store: Store, pages: int) -> None:
    await store._database.write(lambda c: c.execute(f"PRAGMA max_page_count = {pages}").fetchone())


async def test_a_frames_way_is_counted_logged_and_told(store: Store):
    hub = Hub("run")
    book = Book(samples.SHOOT, store, hub, camera=samples.CAMERA)
    await book.load()
    await book.intend(samples.due(1), 5)
    assert [frame.seq for frame in book.open_frames()] == [1]
    assert hub.last_id == "run-0"  # an intent is not news
    await book.change(1, state=FrameState.RELEASED, released_utc=samples.START + 5.1, late_ms=0.2)
    await book.change(1, state=FrameState.WRITTEN, camera_file="/a/1.JPG")
    assert not book.open_frames()
    assert book.counts == await store.counts(samples.SHOOT)
    assert (book.counts.written, book.counts.done) == (1, 1)
    assert hub.last_id == "run-2"
    logged = (await store.frames(samples.SHOOT))[0]
    assert logged.state is FrameState.WRITTEN
    assert logged == book.last


async def test_what_was_open_is_taken_up_again(store: Store):
    first = Book(samples.SHOOT, store, Hub("a"), camera=samples.CAMERA)
    await first.intend(samples.due(1), 5)
    await first.intend(samples.due(2), 5)
    await first.change(1, state=FrameState.WRITTEN, camera_file="/a/1.JPG")
    again = Book(samples.SHOOT, store, Hub("b"), camera=samples.CAMERA)
    await again.load()
    assert sorted(again.frames) == [2]
    assert again.counts.written == 1
    assert again.last is not None
    assert again.last.seq == 2
    assert [frame.seq for frame in await again.unfetched(0, 5, 1)] == [1]


async def test_what_was_in_force_before_a_change(store: Store):
    """Of several changes after a moment the first tells what was in force until then."""
    book = Book(samples.SHOOT, store, Hub("run"), camera=samples.CAMERA)
    await book.note("changed", "light: bias_ev 1.0", 100.0, before={"bias_ev": 0.0})
    await book.note("changed", "light: bias_ev 2.0", 200.0, before={"bias_ev": 1.0})
    assert await book.changed_after(50.0) == {"bias_ev": 0.0}
    assert await book.changed_after(100.0) == {"bias_ev": 1.0}
    assert await book.changed_after(200.0) is None


async def test_an_intent_that_is_taken_back_leaves_no_trace(store: Store):
    book = Book(samples.SHOOT, store, Hub("run"), camera=samples.CAMERA)
    await book.intend(samples.due(1), 5)
    await book.withdraw(1)
    assert await store.last_frame(samples.SHOOT) is None
    await book.intend(samples.due(1), 5)
    assert [frame.seq for frame in await store.open_frames(samples.SHOOT)] == [1]


async def test_a_full_disk_keeps_entries_for_later_in_their_order(store: Store, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(writing, "RETRY_S", 0.05)
    book = Book(samples.SHOOT, store, Hub("run"), camera=samples.CAMERA)
    await allow_pages(store, 1)  # gives the very SQLITE_FULL that a full disk gives
    for seq in range(1, 301):
        await book.intend(samples.due(seq), 5)
        await book.change(seq, state=FrameState.WRITTEN, camera_file=f"/a/{seq}.JPG")
    assert book.trouble is not None
    assert book.trouble.code == "disk-full"
    assert book.counts.written == 300
    assert (await store.counts(samples.SHOOT)).written < 300
    await allow_pages(store, 100_000)
    async with asyncio.timeout(10):
        while book.trouble is not None:
            await asyncio.sleep(0.02)
    assert await store.counts(samples.SHOOT) == book.counts
    assert [f.camera_file for f in await store.frames(samples.SHOOT)] == [f"/a/{seq}.JPG" for seq in range(1, 301)]
    await book.close()


async def test_a_log_that_stalls_keeps_nobody_waiting(store: Store):
    """Cards stop for seconds while they tidy up: common practice, no source."""
    book, gate = Book(samples.SHOOT, store, Hub("run"), camera=samples.CAMERA), threading.Event()
    stalled = asyncio.create_task(store._database.write(lambda _: gate.wait(60)))
    for seq in range(1, 21):
        await book.intend(samples.due(seq), 0.01)
        await book.change(seq, state=FrameState.RELEASED, released_utc=samples.START + 5.0 * seq)
        await book.change(seq, state=FrameState.WRITTEN, camera_file=f"/a/{seq}.JPG")
    assert book.counts.written == 20
    assert (await store.counts(samples.SHOOT)).written == 0
    gate.set()
    await stalled
    assert len(await book.rows_since(1)) == 20  # whoever reads waits for what is on its way
    await book.close()
    assert await store.counts(samples.SHOOT) == book.counts
    assert [f.camera_file for f in await store.frames(samples.SHOOT)] == [f"/a/{seq}.JPG" for seq in range(1, 21)]


async def test_slots_that_passed_while_the_rig_was_off_are_counted_apart(store: Store):
    book = Book(samples.SHOOT, store, Hub("run"), camera=samples.CAMERA)
    await book.load()
    off = [samples.due(seq).but({"state": FrameState.MISSED, "cause": NOT_RUNNING}) for seq in range(1, 301)]
    await book.missed([*off, samples.due(301).but({"state": FrameState.MISSED, "cause": "busy"})])
    assert (book.counts.missed, book.off) == (301, 300)
    assert [frame.cause for frame in book.lately_missed] == ["busy"]
    book.frames[7] = off[6]  # its file was found on the card
    await book.change(7, state=FrameState.WRITTEN, camera_file="/a/7.JPG")
    assert (book.counts.missed, book.off) == (300, 299)


async def test_a_lost_frame_is_remembered_until_its_file_is_known(store: Store):
    book = Book(samples.SHOOT, store, Hub("run"), camera=samples.CAMERA)
    await book.load()
    for seq in (1, 2):
        await book.intend(samples.due(seq), 5)
        await book.change(seq, state=FrameState.RELEASED, released_utc=samples.START + 5)
        await book.change(seq, state=FrameState.LOST, cause="no file on the card")
    assert [frame.seq for frame in book.lately_lost] == [1, 2]
    await book.change(1, state=FrameState.WRITTEN, camera_file="/a/1.JPG")
    assert [frame.seq for frame in book.lately_lost] == [2]


async def test_a_log_that_takes_nothing_for_weeks_does_not_fill_the_memory(
    store: Store, monkeypatch: pytest.MonkeyPatch
):
    """A memory card that fails is made read-only by the system, and nobody comes: the rig has to shoot on."""
    monkeypatch.setattr(writing, "RETRY_S", 0.05)
    monkeypatch.setattr(writing, "MOST", 40)
    book = Book(samples.SHOOT, store, Hub("run"), camera=samples.CAMERA)
    await allow_pages(store, 1)
    for seq in range(1, 201):
        await book.intend(samples.due(seq), 0.01)
        await book.change(seq, state=FrameState.WRITTEN, camera_file=f"/a/{seq}.JPG")
        book.forget(seq)
    await book.missed([samples.due(seq).but({"state": FrameState.MISSED, "cause": "busy"}) for seq in (201, 202)])
    await book.intend(samples.due(203), 0.01)
    await book.withdraw(203)
    assert (book.counts.written, book.counts.missed) == (200, 2)
    assert len(book._writing._queue) < 100  # type: ignore[attr-defined]
    assert not book._unlogged
    await allow_pages(store, 100_000)
    async with asyncio.timeout(10):
        while book.trouble is not None:
            await asyncio.sleep(0.02)
    await book.intend(samples.due(203), 5)
    await book.change(203, state=FrameState.WRITTEN, camera_file="/a/203.JPG")
    await book.close()
    rows = await store.frames(samples.SHOOT)
    logged = len(rows) - 1
    assert 20 <= logged < 200
    assert [(row.seq, row.state) for row in rows] == [
        *((seq, FrameState.WRITTEN) for seq in range(1, logged + 1)),
        (203, FrameState.WRITTEN),
    ]
    begins, ends = await store.notes(samples.SHOOT, kind="slots-unlogged")
    assert begins.facts == {"first_seq": logged + 1, "camera": samples.CAMERA}
    assert (ends.facts["first_seq"], ends.facts["last_seq"]) == (logged + 1, 203)
