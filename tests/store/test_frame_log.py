# ruff: noqa: ASYNC240 - each test has its event loop to itself

from __future__ import annotations

import asyncio
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.store import Store
from controller.store.database import Database
from controller.words.documents import Frame, FrameCounts, FrameState
from controller.words.errors import Conflict, NotFound
from tests.store.samples import CAMERA, SHOOT, due, outcome, shoot


async def test_a_frame_comes_back_as_it_was_logged(store: Store) -> None:
    number = await store.intend(due(1))
    changed = await store.change_frame(SHOOT, 1, CAMERA, **outcome(1))
    expected = Frame.model_validate({**due(1).model_dump(), **outcome(1), "id": number})
    assert changed == expected
    assert await store.frame(number) == expected
    assert await store.frames(SHOOT) == [expected]


async def test_view_has_exactly_the_columns_of_the_document(store: Store, path: Path) -> None:
    with sqlite3.connect(path) as other:
        names = {row[1] for row in other.execute("PRAGMA table_info(frame_log)")}
    other.close()
    assert names == set(Frame.model_fields)


async def test_due_slots_are_internal(store: Store) -> None:
    await store.intend(due(1))
    await store.intend(due(2))
    await store.change_frame(SHOOT, 1, CAMERA, state=FrameState.RELEASED)
    assert [frame.seq for frame in await store.frames(SHOOT)] == [1]
    assert [(frame.seq, frame.state) for frame in await store.open_frames(SHOOT)] == [(1, "released"), (2, "due")]
    last = await store.last_frame(SHOOT)
    assert last is not None
    assert last.seq == 2
    assert await store.counts(SHOOT) == FrameCounts(released=1)


async def test_files_that_no_row_names(store: Store) -> None:
    """Both files of a pair count, and those of another camera and of another shoot do not."""
    await store.add_shoot(shoot("2026-10-21-quay"))
    for seq, camera in ((1, CAMERA), (2, "camera-2")):
        await store.intend(due(seq, camera=camera))
        await store.change_frame(SHOOT, seq, camera, camera_file=f"/a/{seq}.JPG", companion_file=f"/a/{seq}.NEF")
    await store.intend(due(3))
    card = [f"/a/{n}.{kind}" for n in (1, 2, 3) for kind in ("JPG", "NEF")]
    assert await store.unnamed(SHOOT, card, CAMERA) == set(card[2:])
    assert await store.unnamed(SHOOT, card, "camera-2") == {*card[:2], *card[4:]}
    assert await store.unnamed("2026-10-21-quay", card, CAMERA) == set(card)
    assert await store.unnamed(SHOOT, [], CAMERA) == set()


async def test_pages_hold_every_frame_once(store: Store) -> None:
    for seq in range(1, 8):
        await store.add_missed([due(seq, camera=name, state="missed", cause="held") for name in ("east", "west")])
    seen: list[tuple[int, str]] = []
    after = 0
    while page := await store.frames(SHOOT, after=after, limit=3):
        seen += [(frame.seq, frame.camera) for frame in page]
        after = page[-1].seq
    assert seen == [(seq, name) for seq in range(1, 8) for name in ("east", "west")]
    assert [frame.seq for frame in await store.frames(SHOOT, after=2, limit=1)] == [3, 3]


async def test_a_page_of_one_camera_has_the_length_that_was_asked_for(store: Store) -> None:
    await store.add_missed([due(seq, state="missed") for seq in range(1, 8)])
    for limit in (1, 2, 6, 7, 8):
        assert [frame.seq for frame in await store.frames(SHOOT, limit=limit)] == list(range(1, min(limit, 7) + 1))


async def test_a_change_to_an_unknown_frame_is_an_error(store: Store) -> None:
    await store.intend(due(1))
    for which in ((SHOOT, 2, CAMERA), (SHOOT, 1, "other"), ("other", 1, CAMERA)):
        with pytest.raises(NotFound, match="not in the log"):
            await store.change_frame(*which, state=FrameState.LOST)
    with pytest.raises(TypeError, match="colour"):
        await store.change_frame(SHOOT, 1, CAMERA, colour="red")
    with pytest.raises(TypeError, match="seq"):
        await store.change_frame(SHOOT, 1, CAMERA, seq=9)
    with pytest.raises(ValueError, match="state"):
        await store.change_frame(SHOOT, 1, CAMERA, state="somewhere")
    assert (await store.open_frames(SHOOT))[0].state == FrameState.DUE


async def test_a_slot_is_logged_once(store: Store) -> None:
    await store.intend(due(1))
    with pytest.raises(Conflict, match="frame 1"):
        await store.intend(due(1))
    with pytest.raises(NotFound, match="nowhere"):
        await store.intend(due(1, shoot="nowhere"))
    with pytest.raises(Conflict):  # all or none
        await store.add_missed([due(2, state="missed"), due(1, state="missed")])
    assert [frame.seq for frame in await store.open_frames(SHOOT)] == [1]
    assert await store.counts(SHOOT) == FrameCounts()


async def test_one_job_that_fails_takes_no_other_with_it(store: Store) -> None:
    """Jobs that wait together share a transaction; every fifth here is a duplicate."""
    slots = [due(1 if number % 5 == 0 else number) for number in range(1, 201)]
    answers = await asyncio.gather(*(store.intend(slot) for slot in slots), return_exceptions=True)
    refused = [answer for answer in answers if isinstance(answer, Exception)]
    assert len(refused) == 40
    assert all(isinstance(error, Conflict) for error in refused)
    assert [frame.seq for frame in await store.open_frames(SHOOT)] == [n for n in range(1, 201) if n % 5]


_STATES = st.sampled_from(list(FrameState))


@given(st.lists(st.tuples(st.integers(1, 6), _STATES), max_size=30))
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
async def test_counts_are_what_counting_gives(tmp_path: Path, moves: list[tuple[int, FrameState]]) -> None:
    path = tmp_path / "counts" / "frames.sqlite3"
    shutil.rmtree(path.parent, ignore_errors=True)
    async with await Store.open(path) as store:
        await store.add_shoot(shoot())
        known: dict[int, FrameState] = {}
        for seq, state in moves:
            if seq in known:
                await store.change_frame(SHOOT, seq, CAMERA, state=state)
            else:
                await store.intend(due(seq, state=state))
            known[seq] = state
        counted = {state: list(known.values()).count(state) for state in FrameState if state != FrameState.DUE}
        assert (await store.counts(SHOOT)).model_dump() == counted
        assert (await store.shoot(SHOOT)).counts.model_dump() == counted


async def test_counts_do_not_visit_frames(path: Path, store: Store) -> None:
    asked: list[str] = []
    other = sqlite3.connect(path)
    other.row_factory = sqlite3.Row
    other.set_trace_callback(asked.append)
    from controller.store import shoots

    shoots.counts(other, shoots.shoot_key(other, SHOOT))
    other.set_trace_callback(None)
    plans = [str(list(row)) for query in asked for row in other.execute(f"EXPLAIN QUERY PLAN {query}")]
    other.close()
    assert len(plans) == 2
    assert all("SEARCH" in plan and "frames" not in plan for plan in plans), plans


async def test_open_frames_and_the_last_use_an_index(store: Store, path: Path) -> None:
    asked: list[str] = []

    def watch(connection: sqlite3.Connection) -> None:
        from controller.store import frame_log

        connection.set_trace_callback(asked.append)
        frame_log.open_frames(connection, SHOOT, "camera-1")
        frame_log.last_frame(connection, SHOOT, "camera-1")
        connection.set_trace_callback(None)
        for query in asked:
            for row in connection.execute(f"EXPLAIN QUERY PLAN {query}"):
                assert "SCAN f" not in row["detail"], (query, row["detail"])

    reader = Database(path, read_only=True)
    await reader.read(watch)
    await reader.close()
    assert len(asked) >= 2


async def test_a_frame_costs_at_most_400_bytes(store: Store, path: Path) -> None:
    """The bound of docs/write-order.md, with a RAW+JPEG pair, a fetched copy and a preview each."""

    async def log(first: int, last: int) -> int:
        for seq in range(first, last):
            await store.intend(due(seq))
            fields: dict[str, Any] = outcome(seq)
            written = {name: fields.pop(name) for name in ("released_utc", "late_ms")}
            await store.change_frame(SHOOT, seq, CAMERA, **{**written, "state": FrameState.RELEASED})
            await store.change_frame(SHOOT, seq, CAMERA, **fields)
        other = sqlite3.connect(path)
        other.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        other.close()
        return path.stat().st_size

    before = await log(1, 101)
    after = await log(101, 1101)
    assert (after - before) / 1000 <= 400


async def test_an_intent_is_taken_back_only_while_it_is_due(store: Store) -> None:
    await store.intend(due(1))
    await store.intend(due(2))
    await store.withdraw(SHOOT, 2, CAMERA)
    await store.change_frame(SHOOT, 1, CAMERA, state=FrameState.RELEASED)
    for seq in (1, 2):
        with pytest.raises(NotFound, match="due"):
            await store.withdraw(SHOOT, seq, CAMERA)
    assert [frame.seq for frame in await store.open_frames(SHOOT)] == [1]
    assert await store.counts(SHOOT) == FrameCounts(released=1)
    await store.intend(due(2))


async def test_what_is_on_the_card_only(store: Store) -> None:
    for seq, state in enumerate(("written", "fetched", "written", "lost", "written", "released"), 1):
        await store.intend(due(seq, state=state))
    assert [frame.seq for frame in await store.unfetched(SHOOT, 0, 9)] == [1, 3, 5]
    assert [frame.seq for frame in await store.unfetched(SHOOT, 3, 1)] == [3]
    assert [frame.seq for frame in await store.unfetched(SHOOT, 0, 9, every=5)] == [5]


async def test_last_frame_of_an_empty_shoot(store: Store) -> None:
    assert await store.last_frame(SHOOT) is None
    assert await store.frames(SHOOT) == []
    with pytest.raises(NotFound):
        await store.frames("other")
    with pytest.raises(NotFound):
        await store.frame(7)


@pytest.mark.parametrize(
    "pair",
    [
        ("/store/DCIM/100DUSKH/DSC_0001.JPG", "/store/DCIM/100DUSKH/DSC_0001.NEF"),
        ("/store_1/DCIM/100DUSKH/DSC_0001.JPG", "/store_2/DCIM/100DUSKH/DSC_0001.NEF"),
        ("/store/DCIM/1.0/DSC_0001.JPG", "/store/DCIM/1.0/DSC_0002.NEF"),
        ("/store/DCIM/1.0/nameless", "/store/DCIM/1.0/other"),
        ("/store/DCIM/100DUSKH/DSC_0001.JPG", None),
    ],
)
async def test_the_names_of_a_pair_come_back_as_they_were(store: Store, pair: tuple[str, str | None]) -> None:
    """However they are kept: set together, one after the other, changed, and with a row that is added whole."""
    first, second = pair
    for seq in (1, 2, 3):
        await store.intend(due(seq))
    await store.change_frame(SHOOT, 1, CAMERA, camera_file=first, companion_file=second)
    await store.change_frame(SHOOT, 2, CAMERA, camera_file=first)
    await store.change_frame(SHOOT, 2, CAMERA, companion_file=second)
    await store.change_frame(SHOOT, 3, CAMERA, camera_file="/store/other.JPG", companion_file=second)
    changed = await store.change_frame(SHOOT, 3, CAMERA, camera_file=first)
    await store.add_missed([due(4, camera_file=first, companion_file=second)])
    await store.change_frame(SHOOT, 4, CAMERA, scene_ev=3.0)
    assert (changed.camera_file, changed.companion_file) == pair
    for seq in (1, 2, 4):
        last = await store.change_frame(SHOOT, seq, CAMERA, cause="looked at")
        assert (last.camera_file, last.companion_file) == pair
    named = {path for path in pair if path}
    assert await store.unnamed(SHOOT, named | {"/store/DCIM/new.JPG"}, CAMERA) == {"/store/DCIM/new.JPG"}
