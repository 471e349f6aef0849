"""Databases that cannot be used, and disks that are full."""

# ruff: noqa: ASYNC220, ASYNC221, ASYNC240 - each test has its event loop to itself

from __future__ import annotations

import asyncio
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from controller.store import Store, schema
from controller.words.errors import DuskhandError, NotFound, StoreError
from tests.store.samples import SHOOT, due, shoot


async def refused(path: Path, code: str, *, read_only: bool = False) -> str:
    with pytest.raises(DuskhandError) as caught:
        await Store.open(path, read_only=read_only)
    assert caught.value.code == code
    assert caught.value.remedy
    assert str(path.parent) in str(caught.value)
    assert "\n" not in str(caught.value)
    return str(caught.value)


async def test_not_a_database(path: Path) -> None:
    content = b"a photograph, not a database" * 400
    path.write_bytes(content)
    await refused(path, "store-damaged", read_only=True)
    assert path.read_bytes() == content


@pytest.mark.parametrize("read_only", [False, True])
async def test_a_database_of_another_program(path: Path, read_only: bool) -> None:
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE songs (title TEXT)")
    other.commit()
    other.close()
    before = path.read_bytes()
    await refused(path, "store-foreign", read_only=read_only)
    assert path.read_bytes() == before


@pytest.mark.parametrize("read_only", [False, True])
async def test_a_newer_version_is_refused(path: Path, read_only: bool) -> None:
    await (await Store.open(path)).close()
    other = sqlite3.connect(path)
    other.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    other.close()
    assert f"schema {schema.VERSION + 1}" in await refused(path, "store-newer", read_only=read_only)


@pytest.mark.parametrize("read_only", [False, True])
@pytest.mark.parametrize(
    ("change", "named"),
    [("ALTER TABLE frames DROP COLUMN gap_s", "table frames"), ("DROP TRIGGER frame_moved", "trigger frame_moved")],
)
async def test_an_altered_schema_is_refused(path: Path, change: str, named: str, read_only: bool) -> None:
    await (await Store.open(path)).close()
    other = sqlite3.connect(path)
    other.execute("DROP VIEW frame_log")
    other.execute(change)
    other.close()
    said = await refused(path, "store-altered", read_only=read_only)
    assert named in said
    assert "view frame_log" in said


async def test_a_damaged_page_is_told_and_not_fatal_to_the_process(store: Store, path: Path) -> None:
    for seq in range(1, 400):
        await store.intend(due(seq))
    await store.close()
    content = bytearray(path.read_bytes())
    content[-10 * 4096 :] = b"\xa5" * 10 * 4096  # the last pages to come, which are the frames'
    path.write_bytes(content)
    async with await Store.open(path) as again:
        with pytest.raises(StoreError) as caught:
            await again.open_frames(SHOOT)
        assert caught.value.code == "store-damaged"
        assert again.damage is not None
    async with await Store.open(path) as new:  # what was found is put aside with the next start
        assert new.aside is not None
        assert new.aside[0].read_bytes() == content
        assert await new.shoots() == []


async def test_reader_without_a_database(path: Path) -> None:
    with pytest.raises(NotFound, match="no frame log"):
        await Store.open(path, read_only=True)
    assert not path.exists()
    path.touch()
    with pytest.raises(NotFound, match="empty"):
        await Store.open(path, read_only=True)


async def test_a_directory_in_its_place(path: Path) -> None:
    path.mkdir()
    await refused(path, "store-unreachable")
    (path.parent / "file").touch()
    await refused(path.parent / "file" / "frames.sqlite3", "store-unreachable")


async def test_a_second_daemon_is_refused_until_the_first_is_dead(path: Path) -> None:
    async with await Store.open(path) as store:
        await store.add_shoot(shoot())
    with subprocess.Popen(
        [sys.executable, "-m", "tests.store.writer", str(path), "1"], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()
        try:
            await refused(path, "store-in-use")
            async with await Store.open(path, read_only=True) as reader:
                assert [each.id for each in await reader.shoots()] == [SHOOT]
        finally:
            process.kill()
    async with await Store.open(path) as store:
        assert await store.last_frame(SHOOT)


async def test_a_reader_sees_what_the_writer_commits_and_cannot_write(store: Store, path: Path) -> None:
    async with await Store.open(path, read_only=True) as reader:
        await store.add_missed([due(1, state="missed")])
        assert [frame.seq for frame in await reader.frames(SHOOT)] == [1]
        with pytest.raises(StoreError, match="reading only"):
            await reader.intend(due(2))


_READ_AS_NOBODY = """
import asyncio, os, sys, urllib.parse  # before the change of user, who may not read the library's folder
from pathlib import Path
from controller.store import Store
async def read():
    async with await Store.open(Path(sys.argv[1]), read_only=True) as reader:
        print([shoot.id for shoot in await reader.shoots()])
if os.getuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
asyncio.run(read())
"""


@pytest.mark.parametrize("running", [True, False])
async def test_a_reader_that_may_not_write_to_the_directory(running: bool) -> None:
    """The service's user owns the directory, another user asks."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "frames.sqlite3"
        store = await Store.open(path)
        await store.add_shoot(shoot())
        if not running:
            await store.close()
        path.parent.chmod(0o555)
        done = subprocess.run([sys.executable, "-c", _READ_AS_NOBODY, str(path)], capture_output=True, text=True)
        path.parent.chmod(0o755)
        await store.close()
    assert (done.stdout.strip(), done.stderr) == (f"['{SHOOT}']", "")


async def test_full_disk(store: Store) -> None:
    """SQLite's own page limit gives the very SQLITE_FULL that a full disk gives, rolled back the same way."""
    database = store._database

    async def limit(pages: str) -> None:
        await database.write(lambda c: c.execute(f"PRAGMA max_page_count = {pages}").fetchone())

    used = await database.write(lambda c: c.execute("PRAGMA page_count").fetchone()[0])
    await limit(str(used + 5))
    answers = await asyncio.gather(*(store.intend(due(seq)) for seq in range(1, 401)), return_exceptions=True)
    kept = [seq for seq, answer in enumerate(answers, 1) if isinstance(answer, int)]
    failed = [answer for answer in answers if isinstance(answer, Exception)]
    assert kept
    assert failed
    for error in failed:
        assert isinstance(error, StoreError)
        assert (error.code, error.retryable) == ("disk-full", True)
        assert "Free some space" in error.remedy
    assert [frame.seq for frame in await store.open_frames(SHOOT)] == kept
    await limit("1073741823")
    await store.intend(due(1000))
    assert (await store.open_frames(SHOOT))[-1].seq == 1000


def test_a_migration_that_fails_leaves_the_step_before(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    schema.prepare(path)
    broken = "CREATE TABLE half (a TEXT) STRICT;\nINSERT INTO missing VALUES (1);"
    monkeypatch.setattr(schema, "_STEPS", (*schema._STEPS, broken))
    with pytest.raises(sqlite3.OperationalError):
        schema.prepare(path)
    monkeypatch.setattr(schema, "_STEPS", (*schema._STEPS[:-1], "CREATE TABLE whole (a TEXT) STRICT;"))
    schema.prepare(path)
    other = sqlite3.connect(path)
    tables = {row[0] for row in other.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert other.execute("PRAGMA user_version").fetchone()[0] == schema.VERSION + 1
    other.close()
    assert "whole" in tables
    assert "half" not in tables


async def test_a_caller_that_gives_up_does_not_stop_the_writer(store: Store) -> None:
    waiting = [asyncio.ensure_future(store.intend(due(seq))) for seq in range(1, 30)]
    await asyncio.sleep(0)
    for task in waiting:
        task.cancel()
    await asyncio.gather(*waiting, return_exceptions=True)
    await store.intend(due(100))
    assert (await store.open_frames(SHOOT))[-1].seq == 100


async def test_a_rollback_that_fails_does_not_end_the_writer(store: Store) -> None:
    """As on a disk that fails again while SQLite puts things right: else every later frame would wait for ever."""
    database, real = store._database, store._database._writer

    class Failing:
        """The connection, whose next commit and the rollback after it fail."""

        left = 2

        def execute(self, text: str, *values: object) -> object:
            assert real is not None
            if text in ("COMMIT", "ROLLBACK") and self.left:
                self.left -= 1
                if text == "ROLLBACK":
                    real.execute(text)
                raise sqlite3.OperationalError("disk I/O error")
            return real.execute(text, *values)

        def __getattr__(self, name: str) -> object:
            return getattr(real, name)

    database._writer = Failing()  # type: ignore[assignment]
    with pytest.raises(StoreError):
        async with asyncio.timeout(30):
            await store.add_shoot(shoot("another"))
    async with asyncio.timeout(30):
        await store.add_shoot(shoot("another"))
    database._writer = real
    assert [each.id for each in await store.shoots()] == [SHOOT, "another"]


async def test_closing_finishes_what_was_asked(path: Path) -> None:
    store = await Store.open(path)
    await store.add_shoot(shoot())
    waiting = [asyncio.ensure_future(store.intend(due(seq))) for seq in range(1, 30)]
    await asyncio.sleep(0)
    await store.close()
    await asyncio.gather(*waiting)
    with pytest.raises(StoreError):
        await store.intend(due(99))
    with pytest.raises(StoreError):
        await store.shoots()
    await store.close()
    async with await Store.open(path) as again:
        assert len(await again.open_frames(SHOOT)) == 29


@pytest.mark.parametrize("fails_at", [1, 2, 3, 4])
async def test_what_was_opened_before_it_failed_is_closed(
    path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int
) -> None:
    """As where no more files may be open: the next try has them all. The first connection is that which prepares."""
    opened: list[sqlite3.Connection] = []
    connect = schema.connect

    def counted(path: Path, *, read_only: bool = False) -> sqlite3.Connection:
        if len(opened) + 1 == fails_at:
            raise sqlite3.OperationalError("unable to open database file")
        opened.append(connect(path, read_only=read_only))
        return opened[-1]

    with monkeypatch.context() as patched:
        patched.setattr(schema, "connect", counted)
        with pytest.raises(StoreError):
            await Store.open(path)
    assert len(opened) == fails_at - 1
    for connection in opened:
        with pytest.raises(sqlite3.ProgrammingError, match="closed"):
            connection.execute("SELECT 1")
    async with await Store.open(path) as store:
        assert await store.shoots() == []
