"""Databases that are damaged while nobody has them open: put aside whole, and a new one in their place."""

# ruff: noqa: ASYNC221, ASYNC240 - each test has its event loop to itself

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.store import Store, damage
from controller.store.sidecar import read_all
from controller.words.documents import ShootState
from controller.words.errors import StoreError
from tests.store.samples import SHOOT, due, shoot


async def killed(path: Path, rows: int = 300) -> None:
    """What a killed process leaves: a database, and a write-ahead log beside it that holds what came last."""
    made = path.parent / "running"
    async with await Store.open(made / path.name) as store:
        await store.add_shoot(shoot())
        for seq in range(1, rows + 1):
            await store.intend(due(seq))
        for each in made.glob(f"{path.name}*"):
            shutil.copy(each, path.parent)
    shutil.rmtree(made)
    path.with_name(path.name + "-shm").unlink()


def wal(path: Path) -> Path:
    return path.with_name(path.name + "-wal")


def no_database(path: Path) -> None:
    path.write_bytes(b"a photograph, not a database" * 400)


def emptied(path: Path) -> None:
    os.truncate(path, 0)


def short(path: Path) -> None:
    fold(path)
    os.truncate(path, path.stat().st_size // 2 // 4096 * 4096)


def overwritten(path: Path) -> None:
    """A page in the middle of the table; SQLite's write-ahead log is there again, as after another kill."""
    fold(path)
    content = bytearray(path.read_bytes())
    content[8 * 4096 : 9 * 4096] = b"\xa5" * 4096
    path.write_bytes(content)
    wal(path).touch()


def fold(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()


@pytest.mark.parametrize("spoil", [no_database, emptied, short, overwritten])
async def test_it_is_put_aside_whole(path: Path, spoil: Callable[[Path], None]) -> None:
    await killed(path)
    spoil(path)
    content, log = path.read_bytes(), wal(path).read_bytes() if wal(path).exists() else None
    async with await Store.open(path) as store:
        assert store.aside is not None
        kept, why = store.aside
        assert why
        assert await store.shoots() == []
        await store.add_shoot(shoot())
    assert kept.name.startswith(f"{path.name}.damaged-20")
    assert kept.read_bytes() == content
    assert log is None or wal(kept).read_bytes() == log
    async with await Store.open(path) as store:  # once only
        assert (store.aside, len(await store.shoots())) == (None, 1)


async def test_a_whole_one_is_left_as_it_is(path: Path) -> None:
    await killed(path)
    async with await Store.open(path) as store:
        assert (store.aside, store.unclean) == (None, True)
        assert len(await store.open_frames(SHOOT)) == 300
    async with await Store.open(path) as store:
        assert (store.aside, store.unclean) == (None, False)


async def test_a_damaged_log_of_writes_is_read_as_far_as_it_is_whole(path: Path) -> None:
    """SQLite, "The WAL File Format": frames from the first whose checksum is wrong on are left out."""
    await killed(path, 100)  # few enough that none are in the database itself
    content = bytearray(wal(path).read_bytes())
    content[len(content) // 2] ^= 0xFF
    wal(path).write_bytes(content)
    async with await Store.open(path) as store:
        assert store.aside is None
        assert 0 < len(await store.open_frames(SHOOT)) < 100


async def test_a_large_one_is_checked_while_it_is_used(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    await killed(path)
    overwritten(path)
    monkeypatch.setattr(damage, "CHECK_BYTES", 4096)
    async with await Store.open(path) as store:
        assert (store.aside, store.unchecked) == (None, True)
        await store.check()
        assert store.damage is not None
        assert store.damage.code == "store-damaged"
    async with await Store.open(path) as store:
        assert store.aside is not None


_OPEN_AS_NOBODY = """
import asyncio, os, sys, urllib.parse  # before the change of user, who may not read the library's folder
from pathlib import Path
from controller.store import Store
from controller.words.errors import StoreError
if os.getuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
try:
    asyncio.run(Store.open(Path(sys.argv[1])))
except StoreError as error:
    print(error.code)
"""


async def test_one_that_may_not_be_read_is_left_where_it_is() -> None:
    """Wrong rights are no damage: somebody has to put them right, and nothing may be made anew meanwhile."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "frames.sqlite3"
        await killed(path)
        Path(name).chmod(0o777)
        path.chmod(0o000)
        done = subprocess.run([sys.executable, "-c", _OPEN_AS_NOBODY, str(path)], capture_output=True, text=True)
        path.chmod(0o600)
        assert (done.stdout.strip(), done.stderr) == ("store-unreachable", "")
        assert not list(Path(name).glob("*damaged*"))
        async with await Store.open(path) as store:
            assert len(await store.open_frames(SHOOT)) == 300


async def test_a_shoot_is_told_beside_its_pictures(store: Store, path: Path) -> None:
    told, unread = read_all(path.parent)
    assert [(each.id, each.plan, each.state) for each in told] == [(SHOOT, shoot().plan, shoot().state)]
    await store.change_shoot(SHOOT, state=ShootState.RECOVERING, adjust={"light": {"bias_ev": 0.5}}, cause="a moment")
    (told,), unread = read_all(path.parent)
    assert (told.state, told.cause, told.adjust) == (ShootState.SHOOTING, None, {"light": {"bias_ev": 0.5}})
    await store.change_shoot(SHOOT, state=ShootState.DONE, cause="counted out", ended_utc=5.0)
    (told,), unread = read_all(path.parent)
    assert (told.state, told.cause, told.ended_utc, unread) == (ShootState.DONE, "counted out", 5.0, [])
    (path.parent / "shoots" / SHOOT / "shoot.json").write_text("{")
    assert read_all(path.parent) == ([], [path.parent / "shoots" / SHOOT / "shoot.json"])


async def test_damage_that_cannot_be_put_aside_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    no_database(path)

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(damage, "_rename", refuse)
    with pytest.raises(StoreError, match="cannot be put aside") as caught:
        await Store.open(path)
    assert caught.value.code == "store-unreachable"
