"""Rows that the log has lost are made anew from what lies on the rig, and that is said."""

# ruff: noqa: ASYNC240 - each test has its event loop to itself

from __future__ import annotations

import asyncio
import errno
import hashlib
import os
from pathlib import Path
from types import SimpleNamespace

import pytest
from PIL import Image

from controller.camera.messages import CardFile
from controller.engine.anew import FROM_PICTURE, NO_PICTURE, NOTE, STANDS_S, make_anew, told_lately
from controller.engine.card_again import known_again
from controller.engine.clips import Clips
from controller.engine.loose_ends import check_copies, tidy
from controller.engine.passed import nearest
from controller.engine.reconcile import shots
from controller.store import Store
from controller.store.files import database_path, frame_directory, preview_path
from controller.words.clock import WallClock
from controller.words.documents import Frame, FrameState, Shoot, ShootState
from tests.support.rigs import EVENING_UTC, plan

SHOOT = "2026-10-20-evening"
FOLLOW = {"kind": "follow", "shutter_s": [0.001, 4.0], "iso": [100, 800], "aperture": [2.8, 2.8]}


def shoot(**tables: object) -> Shoot:
    document = plan(interval_s=5.0, **tables)
    return Shoot(
        id=SHOOT, plan_name="evening", plan=document, state=ShootState.SHOOTING, created_utc=EVENING_UTC,
        start_utc=EVENING_UTC,
    )  # fmt: skip


def put(path: Path, utc: float, content: bytes = b"") -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content or b"picture of %d" % utc)
    os.utime(path, (utc, utc))
    return path


def preview(directory: Path, seq: int, camera: str = "camera-1") -> Path:
    return put(directory / preview_path(SHOOT, seq, camera), EVENING_UTC + 5.0 * seq)


def copy(directory: Path, seq: int, ending: str = "JPG", content: bytes = b"") -> Path:
    return put(
        directory / frame_directory(SHOOT, EVENING_UTC) / f"{seq:06d}.{ending}", EVENING_UTC + 5.0 * seq + 2, content
    )


async def lose_the_log(directory: Path, made: Shoot) -> None:
    async with await Store.open(database_path(directory)) as store:
        await store.add_shoot(made)
    database_path(directory).write_bytes(b"no database " * 100)


async def test_shoot_plan_and_frames_are_made_anew(tmp_path: Path) -> None:
    for seq in (1, 2, 4, 5):
        preview(tmp_path, seq)
    preview(tmp_path, 2, "camera-2")
    copy(tmp_path, 4)
    copy(tmp_path, 4, "NEF")
    await lose_the_log(tmp_path, shoot())
    async with await Store.open(database_path(tmp_path)) as store:
        (said,) = await make_anew(store, tmp_path, WallClock())
        assert "not a database" not in said  # those words are for the journal
        assert said.endswith("Pair phones again: duskhand pair")
        assert "shoots: 1, frames: 7" in said
        assert store.aside is not None
        (note,) = await store.notes(SHOOT)
        assert store.aside[0].name in note.text
        assert "not a database" in note.facts["why"]
        (again,) = await store.open_shoots()
        assert (again.id, again.plan, again.start_utc) == (SHOOT, shoot().plan, EVENING_UTC)
        assert await store.get_plan("evening") == again.plan
        rows = await store.frames(SHOOT, camera="camera-1")
        assert [note.kind for note in await store.notes(SHOOT)] == [NOTE]
        assert [frame.seq for frame in await store.frames(SHOOT, camera="camera-2")] == [1, 2]
    async with await Store.open(database_path(tmp_path)) as store:
        assert await make_anew(store, tmp_path, WallClock()) == []  # once only
        told = await told_lately(store)
        assert told is not None
        assert told.line == said
        assert told.stands(note.utc + STANDS_S - 1)  # for who comes days later
        assert not told.stands(note.utc + STANDS_S + 1)
    states = [(row.seq, row.state, row.cause) for row in rows]
    assert states == [
        (1, FrameState.WRITTEN, FROM_PICTURE),
        (2, FrameState.WRITTEN, FROM_PICTURE),
        (3, FrameState.MISSED, NO_PICTURE),
        (4, FrameState.FETCHED, FROM_PICTURE),
        (5, FrameState.WRITTEN, FROM_PICTURE),
    ]
    assert [row.due_utc for row in rows] == [EVENING_UTC + 5.0 * n for n in range(1, 6)]
    assert {row.interval_s for row in rows} == {5.0}
    assert {row.shutter_s for row in rows if row.seq != 3} == {0.1}  # the plan's, which is fixed
    assert rows[3].local_file == f"shoots/{SHOOT}/2026-10-20/000004.JPG"
    assert rows[3].bytes == sum(path.stat().st_size for path in tmp_path.rglob("000004.*") if path.suffix != ".jpg")


async def test_the_exposure_in_force_is_what_the_last_copy_tells(tmp_path: Path) -> None:
    """By Exif's tags (CIPA DC-008, 4.6.5), read by another program: Pillow wrote them."""
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0x829A: 0.5, 0x829D: 2.8, 0x8827: 400})
    preview(tmp_path, 6)
    path = copy(tmp_path, 7)
    Image.new("RGB", (64, 48)).save(path, "JPEG", exif=exif)
    await lose_the_log(tmp_path, shoot(light=FOLLOW))
    async with await Store.open(database_path(tmp_path)) as store:
        await make_anew(store, tmp_path, WallClock())
        rows = await store.frames(SHOOT)
        assert [(row.shutter_s, row.aperture, row.iso) for row in rows[-2:]] == [(None, None, None), (0.5, 2.8, 400.0)]
        assert rows[-1].exposure_ev == pytest.approx(1.97, abs=0.01)  # log2(2.8² / 0.5) − log2(400 / 100)


async def opened_after_a_kill(directory: Path, rows: list[Frame]) -> Store:
    async with await Store.open(database_path(directory)) as store:
        await store.add_shoot(shoot())
        await store.add_missed(rows)
    store = await Store.open(database_path(directory))
    store._database.unclean = True
    return store


def row(seq: int, **more: object) -> Frame:
    fields: dict[str, object] = {"state": FrameState.WRITTEN, **more}
    return Frame(shoot=SHOOT, seq=seq, camera="camera-1", due_utc=EVENING_UTC + 5.0 * seq, interval_s=5.0, **fields)


async def test_rows_that_only_the_end_of_the_log_has_lost(tmp_path: Path) -> None:
    for seq in (1, 2, 3, 5):
        preview(tmp_path, seq)
    async with await opened_after_a_kill(tmp_path, [row(1), row(2)]) as store:
        (said,) = await make_anew(store, tmp_path, WallClock())
        assert said.endswith("(3)")
        rows = await store.frames(SHOOT)
        assert [(each.seq, each.cause) for each in rows] == [
            (1, None), (2, None), (3, FROM_PICTURE), (4, NO_PICTURE), (5, FROM_PICTURE),
        ]  # fmt: skip
        assert await make_anew(store, tmp_path, WallClock()) == []


async def test_a_folder_without_a_picture_keeps_nothing_from_being_made_anew(tmp_path: Path) -> None:
    """A shoot whose first frame had not come, or whose pictures somebody has moved away."""
    (tmp_path / preview_path(SHOOT, 1)).parent.mkdir(parents=True)
    await lose_the_log(tmp_path, shoot())
    async with await Store.open(database_path(tmp_path)) as store:
        (said,) = await make_anew(store, tmp_path, WallClock())
        assert "shoots: 1, frames: 0" in said
        assert [each.id for each in await store.open_shoots()] == [SHOOT]


async def test_a_picture_that_somebody_has_put_there_makes_no_millions_of_rows(tmp_path: Path) -> None:
    """Named by its day, as phones do: no outage leaves so many numbers between two frames."""
    for seq in (1, 2):
        preview(tmp_path, seq)
    put(tmp_path / preview_path(SHOOT, 1).with_name("20261020.jpg"), EVENING_UTC + 30.0)
    await lose_the_log(tmp_path, shoot())
    async with await Store.open(database_path(tmp_path)) as store:
        async with asyncio.timeout(30):
            (said,) = await make_anew(store, tmp_path, WallClock())
        assert "shoots: 1, frames: 2" in said


async def test_what_the_end_of_the_log_has_lost_is_made_anew_beside_a_shoot_that_it_has_lost(tmp_path: Path) -> None:
    """The log's end had a shoot that was added, and rows of one that was under way."""
    for seq in range(1, 4):
        preview(tmp_path, seq)
    async with await Store.open(database_path(tmp_path)) as store:
        await store.add_shoot(shoot())
        rows = [Frame(shoot=SHOOT, seq=1, camera="camera-1", due_utc=EVENING_UTC + 5.0, interval_s=5.0)]
        await store.add_missed(rows)
        other = shoot().model_copy(update={"id": "2026-10-21-evening"})
        await store._sidecars.keep(other)
    database_path(tmp_path).with_name("frames.sqlite3-wal").touch()  # as after an end that was not in order
    async with await Store.open(database_path(tmp_path)) as store:
        whole, tail = await make_anew(store, tmp_path, WallClock())
        assert "shoots: 1, frames: 0" in whole
        assert tail.endswith("(2)")
        assert {each.id for each in await store.shoots()} == {SHOOT, other.id}
        assert len([row for row in await store.frames(SHOOT) if row.cause == FROM_PICTURE]) == 2


async def test_a_disk_that_cannot_be_read_somewhere_keeps_no_rig_from_starting(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cut may tear a memory card itself: then the rig shoots on without what lay there."""
    made = shoot()
    copy(tmp_path, 1)
    async with await Store.open(database_path(tmp_path)) as store:
        await store.add_shoot(made)
        at = {"local_file": str(frame_directory(SHOOT, EVENING_UTC) / "000001.JPG"), "sha256": "ab" * 32}
        row = Frame(shoot=SHOOT, seq=1, camera="camera-1", due_utc=EVENING_UTC, interval_s=5.0)
        await store.add_missed([row.but({**at, "state": FrameState.FETCHED})])
    database_path(tmp_path).with_name("frames.sqlite3-wal").touch()

    def torn(*_: object) -> bytes:
        raise OSError(errno.EIO, "Input/output error")

    for broken in ("controller.store.pictures.entries", "controller.store.clips.entries", "pathlib.Path.read_bytes"):
        monkeypatch.setattr(broken, torn)
    async with await Store.open(database_path(tmp_path)) as store:
        await make_anew(store, tmp_path, WallClock())
        await check_copies(store, tmp_path, WallClock())
        await tidy(store, tmp_path, WallClock())
        assert [note.kind for note in await store.notes(SHOOT)] == ["copy-damaged"]
        (row,) = await store.frames(SHOOT)
        assert row.state is FrameState.WRITTEN  # it is asked for again
    database_path(tmp_path).unlink()
    async with await Store.open(database_path(tmp_path)) as store:
        await make_anew(store, tmp_path, WallClock())
        rig = SimpleNamespace(directory=tmp_path, store=store)
        await Clips(rig, None, None, None).open()  # type: ignore[arg-type]


async def test_copies_that_are_gone_or_torn_are_fetched_again(tmp_path: Path) -> None:
    content = b"x" * 1000
    good = hashlib.sha256(content).hexdigest()
    rows = []
    for seq in range(1, 8):
        path = copy(tmp_path, seq, content=content)
        local = str(path.relative_to(tmp_path))
        rows.append(row(seq, state=FrameState.FETCHED, local_file=local, bytes=1000, sha256=good))
    copy(tmp_path, 2).unlink()
    copy(tmp_path, 4, content=content[:999])
    copy(tmp_path, 6, content=b"y" + content[1:])
    left = put(tmp_path / f"{preview_path(SHOOT, 7)}.part", EVENING_UTC)
    half = put(tmp_path / frame_directory(SHOOT, EVENING_UTC) / ".000008.JPG.part", EVENING_UTC)
    async with await opened_after_a_kill(tmp_path, rows) as store:
        await check_copies(store, tmp_path, WallClock())
        await tidy(store, tmp_path, WallClock())
        found = {each.seq: each for each in await store.frames(SHOOT)}
        notes = await store.notes(SHOOT)
    assert {seq for seq, each in found.items() if each.state is FrameState.WRITTEN} == {2, 4, 6}
    assert all((found[seq].local_file, found[seq].sha256) == (None, None) for seq in (2, 4, 6))
    assert sorted(note.facts["seq"] for note in notes if note.kind == "copy-damaged") == [2, 4, 6]
    assert not left.exists()
    assert not half.exists()
    assert [len(note.facts["files"]) for note in notes if note.kind == "left-over"] == [2]


def card(number: int, size: int, utc: float) -> CardFile:
    return CardFile(f"/store/DCIM/100ABCDE/IMG_{number:04d}.JPG", size, utc)


def test_files_on_the_card_are_known_again_by_their_size_and_then_by_the_cameras_clock() -> None:
    """Its clock is an hour ahead; two copies are on the rig, of the other slots small pictures only."""
    files = [card(10 + n, 5000 + n, EVENING_UTC + 5.0 * n + 3600) for n in range(1, 8)]
    rows = [row(n, released_utc=EVENING_UTC + 5.0 * n, cause=FROM_PICTURE) for n in (1, 2, 3, 5, 6)]
    rows = [each.but({"bytes": 5000 + each.seq}) if each.seq in (2, 5) else each for each in rows]
    found = known_again(rows, shots(files, set(), None))
    assert {seq: shot.paths[0][-8:-4] for seq, shot in found.items()} == {n: f"{10 + n:04d}" for n in (1, 2, 3, 5, 6)}


def test_nothing_is_claimed_where_no_copy_tells_the_cameras_clock() -> None:
    files = [card(n, 5000, EVENING_UTC + 5.0 * n) for n in range(1, 4)]
    assert known_again([row(1), row(2, bytes=5000)], shots(files, set(), None)) == {}


def test_slots_that_passed_unlogged_get_the_files_that_are_nearest_and_no_others() -> None:
    """Seven slots a second apart; the camera took four of them, and a picture by hand in a pause of the rig's."""
    slots = [row(n).but({"due_utc": EVENING_UTC + n, "interval_s": 1.0}) for n in (*range(1, 6), 20, 21)]
    files = [card(n, 5000, EVENING_UTC + n + 0.4) for n in (2, 3, 4, 12, 21)]
    given = nearest(slots, shots(files, set(), None), 0.5)
    by_due = {slot.seq: slot.due_utc - EVENING_UTC for slot in slots}
    assert {by_due[seq]: shot.paths[0][-6:-4] for seq, shot in given.items()} == {2: "02", 3: "03", 4: "04", 21: "21"}
    assert nearest(slots, shots(files, set(), None), None) == {}
