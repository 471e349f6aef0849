"""What bodies were seen to do, in the log."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from controller.store import Store, schema
from controller.words.bodies import BeatFound, BodySeen

FIRST = BodySeen(
    model="Camera One",
    serial="00017",
    seen_utc=1_796_140_800.0,
    files="JPG+NEF",
    frame_bytes=31_500_000.0,
    basis="fetched files",
    frames=20,
    preview_bytes=61_000.0,
    free_bytes=64_000_000_000,
    free_frames=2031,
    battery_percent=80,
)


async def test_the_last_one_seen_comes_first(store: Store, path: Path):
    assert await store.bodies() == []
    await store.put_body(FIRST)
    other = BodySeen(model="Camera Two", serial="", seen_utc=FIRST.seen_utc + 60)
    await store.put_body(other)
    async with await Store.open(path, read_only=True) as reader:
        assert await reader.bodies() == [other, FIRST]


async def test_what_it_did_not_show_this_time_stays(store: Store):
    await store.put_body(FIRST)
    await store.put_body(BodySeen(model="Camera One", serial="00017", seen_utc=FIRST.seen_utc + 60, free_bytes=5))
    (kept,) = await store.bodies()
    expected = FIRST.model_copy(
        update={"seen_utc": FIRST.seen_utc + 60, "free_bytes": 5, "free_frames": None, "battery_percent": None}
    )
    assert kept == expected


async def test_another_size_takes_the_place_of_the_one_before_whole(store: Store):
    await store.put_body(FIRST)
    smaller = FIRST.model_copy(
        update={"files": "JPG", "frame_bytes": 9e6, "basis": "the body's own count", "frames": None}
    )
    await store.put_body(smaller)
    assert await store.bodies() == [smaller]


async def test_the_last_steady_beat_of_each_kind_of_files_is_kept(store: Store):
    first = BeatFound(
        utc=FIRST.seen_utc, files="JPG", exposure_s=1 / 64, held_s=0.8, failed_s=0.7, cause="busy", frames=56
    )
    later = first.model_copy(update={"utc": FIRST.seen_utc + 60, "held_s": None, "failed_s": 2.0, "frames": 8})
    pair = first.model_copy(update={"utc": FIRST.seen_utc + 30, "files": "JPG+NEF", "held_s": 1.4, "cause": None})
    for beat in (first, later, pair):
        await store.put_beat(FIRST.model, FIRST.serial, beat)
    (body,) = await store.bodies()
    assert (body.seen_utc, body.beats) == (FIRST.seen_utc, [later, pair])
    await store.put_body(FIRST)
    assert await store.bodies() == [FIRST.model_copy(update={"beats": [later, pair]})]


async def test_a_log_from_before_times_were_kept_keeps_its_bodies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    path = tmp_path / "frames.sqlite3"
    with monkeypatch.context() as before:
        before.setattr(schema, "_STEPS", schema._STEPS[:5])
        schema.prepare(path)
    old = sqlite3.connect(path, isolation_level=None)
    old.execute(
        "INSERT INTO bodies (model, serial, seen_utc, files, frame_bytes, basis, frames, write_s) "
        "VALUES ('Camera One', '00017', 1796140800.0, 'JPG', 9e6, 'fetched files', 20, 1.5)"
    )
    old.close()
    async with await Store.open(path) as store:
        (body,) = await store.bodies()
    assert (body.model, body.files, body.frame_bytes, body.timings, body.beats) == ("Camera One", "JPG", 9e6, [], [])
