"""Pages of the log against the same choice made in Python over all of its rows; and that they come from indexes."""

from __future__ import annotations

import random
import sqlite3
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from controller.store import Store
from controller.store.database import Database
from controller.store.frame_pages import Page, frames, troubles
from controller.words.documents import Frame, FrameState, FrameTrouble, TroubleCounts
from controller.words.errors import NotFound
from tests.store.samples import SHOOT, due, outcome

CAMERAS = ("camera-1", "camera-2")
SLOTS = 120


def trouble(frame: Frame) -> FrameTrouble | None:
    """As docs/frame-log.md says it."""
    if frame.state in (FrameState.MISSED, FrameState.LOST):
        return FrameTrouble.MISSED
    late = frame.late_ms is not None and frame.late_ms > 500
    half = frame.state is FrameState.WRITTEN and frame.bytes is not None
    return FrameTrouble.DOUBTFUL if frame.cause or late or half else None


def ended(seq: int, luck: random.Random) -> dict[str, Any]:
    """How a slot ended: mostly well."""
    kinds: list[dict[str, Any]] = [
        {"state": FrameState.MISSED, "cause": "the camera was busy"},
        {"state": FrameState.RELEASED, "late_ms": 0.7},
        {"state": FrameState.LOST, "cause": "no file on the card", "late_ms": 900.0},
        {"state": FrameState.WRITTEN, "late_ms": 500.0, "camera_file": "/a.jpg"},
        {"state": FrameState.WRITTEN, "late_ms": 500.1, "camera_file": "/a.jpg", "preview": True},
        {"state": FrameState.WRITTEN, "camera_file": "/a.jpg", "companion_file": "/a.nef", "bytes": 9, "preview": True},
        {**outcome(seq), "cause": "the motion rig was moving"},
        {"state": FrameState.DUE},
    ]
    return luck.choice(kinds) if luck.random() < 0.4 else outcome(seq)


@pytest.fixture
async def rows(store: Store) -> list[Frame]:
    """What was logged, without what is due: 120 slots of two cameras, drawn by a number."""
    luck = random.Random(7)
    for seq in range(1, SLOTS + 1):
        for camera in CAMERAS if luck.random() < 0.7 else CAMERAS[:1]:
            await store.intend(due(seq, camera=camera))
            await store.change_frame(SHOOT, seq, camera, **ended(seq, luck))
    found = await store.frames(SHOOT, limit=10_000)
    assert {trouble(frame) for frame in found} == {None, *FrameTrouble}
    assert len(found) > SLOTS
    return found


def chosen(rows: list[Frame], page: Page) -> list[Frame]:
    found = [
        row
        for row in rows
        if page.after < row.seq < page.before
        and row.seq % page.every == 0
        and page.camera in (None, row.camera)
        and page.trouble in (None, trouble(row))
        and row.preview >= page.previews
    ]
    found.sort(key=lambda row: (-row.seq if page.newest else row.seq, row.camera))
    edge = found[: page.limit][-1:]
    return [row for row in found if not edge or (row.seq >= edge[0].seq if page.newest else row.seq <= edge[0].seq)]


async def test_pages_are_the_choice_over_all_rows(store: Store, rows: list[Frame]) -> None:
    asked = 0
    choices = product((False, True), (1, 7), (None, *CAMERAS, "camera-9"), (None, *FrameTrouble), (False, True))
    for newest, every, camera, what, previews in choices:
        for after, before, limit in ((0, 2**62, 500), (0, 2**62, 3), (17, 90, 4), (50, 51, 5), (200, 300, 5)):
            page = Page(after, before, limit, newest, every, camera, what, previews)
            assert await store.page(SHOOT, page) == chosen(rows, page), page
            asked += 1
    assert asked == 480


async def test_counts_are_those_of_the_pages(store: Store, rows: list[Frame]) -> None:
    for camera in (None, *CAMERAS, "camera-9"):
        of = [trouble(row) for row in rows if camera in (None, row.camera)]
        expected = TroubleCounts(missed=of.count(FrameTrouble.MISSED), doubtful=of.count(FrameTrouble.DOUBTFUL))
        assert await store.troubles(SHOOT, camera) == expected
    with pytest.raises(NotFound):
        await store.troubles("nothing")


async def test_what_becomes_well_is_in_trouble_no_more(store: Store) -> None:
    await store.intend(due(1))
    camera = due(1).camera
    await store.change_frame(SHOOT, 1, camera, state=FrameState.LOST, cause="no file on the card")
    assert (await store.troubles(SHOOT)).missed == 1
    await store.change_frame(SHOOT, 1, camera, cause=None, **outcome(1))
    assert await store.troubles(SHOOT) == TroubleCounts()


async def test_they_come_from_indexes(store: Store, path: Path) -> None:
    def watch(connection: sqlite3.Connection) -> None:
        asked: list[str] = []
        for newest, every, camera in product((False, True), (1, 7), (None, "camera-1")):
            for what, previews in product((None, *FrameTrouble), (False, True)):
                index = "frames_in_trouble" if what else "frames_pictured" if previews else "autoindex_frames"
                asked.clear()
                connection.set_trace_callback(asked.append)
                frames(connection, SHOOT, Page(5, 10**6, 10, newest, every, camera, what, previews))
                troubles(connection, SHOOT, camera)
                connection.set_trace_callback(None)
                edge, rows, counted = (query for query in asked if "FROM frames" in query)
                for query, by in ((edge, index), (rows, index), (counted, "frames_in_trouble")):
                    plan = [row["detail"] for row in connection.execute(f"EXPLAIN QUERY PLAN {query}")]
                    assert any(by in line for line in plan), (query, plan)
                    assert not [line for line in plan if line.startswith("SCAN")], (query, plan)
                assert not any(
                    "TEMP B-TREE" in row["detail"] for row in connection.execute(f"EXPLAIN QUERY PLAN {edge}")
                )

    reader = Database(path, read_only=True)
    await reader.read(watch)
    await reader.close()
