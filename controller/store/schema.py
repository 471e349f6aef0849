"""Opens connections, and brings a database to the schema that this version knows.

Each file in migrations/ is one step; `PRAGMA user_version` counts the steps taken. A step and its count are one
transaction, so that a kill in the middle leaves the step before.
"""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from controller.store.files import beside
from controller.words import layout
from controller.words.errors import NotFound, StoreError

APPLICATION_ID = 0x4455534B  # "DUSK", PRAGMA application_id: tells our file from any other SQLite database

_STEPS: tuple[str, ...] = tuple(
    step.read_text() for step in sorted((Path(__file__).parent / "migrations").glob("[0-9]*.sql"))
)
VERSION = len(_STEPS)


def connect(path: Path, *, read_only: bool = False) -> sqlite3.Connection:
    """A connection in autocommit, rows by name. Raises sqlite3.Error."""
    uri = path.absolute().as_uri()
    if read_only:
        uri += "?mode=ro"
        if not beside(path, "-wal").exists() and not os.access(path.parent, os.W_OK):
            uri += "&immutable=1"  # nobody writes, and this user may not make the index that WAL readers share
    connection = sqlite3.connect(uri, uri=True, isolation_level=None, check_same_thread=False, timeout=10)
    connection.row_factory = sqlite3.Row
    try:
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
    except BaseException:
        connection.close()
        raise
    return connection


def prepare(path: Path) -> None:
    """Make the database or migrate it. Raises StoreError where it is not ours, newer, or altered."""
    connection = connect(path)
    try:
        if _is_empty(connection):
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        _refuse_foreign(connection, path)
        connection.execute("PRAGMA journal_mode = WAL")
        migrate(connection)
        _refuse_altered(connection, path)
    finally:
        connection.close()


def inspect(path: Path) -> None:
    """Check that a reader can use the database as it is. Raises NotFound, or StoreError as `prepare` does."""
    if not path.exists():
        there = layout.OF_THE_SERVICE.exists() and path.parent != layout.OF_THE_SERVICE
        remedy = "Name the rig's directory with --dir" + (
            f"; the service's is {layout.OF_THE_SERVICE}" if there else ""
        )
        raise NotFound("no-frame-log", "there is no frame log here", str(path), remedy)
    connection = connect(path, read_only=True)
    try:
        if _is_empty(connection):
            raise NotFound("no-frame-log", "the frame log is empty", str(path), "Start `duskhand serve` on it first")
        _refuse_foreign(connection, path)
        if connection.execute("PRAGMA user_version").fetchone()[0] < VERSION:
            raise StoreError(
                "store-older",
                "the frame log was made by an older duskhand",
                str(path),
                "Start this version's `duskhand serve` on it once, to bring it up to date",
            )
        _refuse_altered(connection, path)
    finally:
        connection.close()


def migrate(connection: sqlite3.Connection) -> None:
    """Take the steps that are missing."""
    done = connection.execute("PRAGMA user_version").fetchone()[0]
    for number, step in enumerate(_STEPS[done:], start=done + 1):
        connection.executescript(f"BEGIN IMMEDIATE;\n{step}\nPRAGMA user_version = {number};\nCOMMIT;")


def _is_empty(connection: sqlite3.Connection) -> bool:
    return connection.execute("SELECT 1 FROM sqlite_master").fetchone() is None


def _refuse_foreign(connection: sqlite3.Connection, path: Path) -> None:
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise StoreError(
            "store-foreign",
            "this is a database of another program",
            str(path),
            "Choose another directory with --dir, or move the file away",
        )
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > VERSION:
        raise StoreError(
            "store-newer",
            f"the frame log has schema {version}, this duskhand knows up to {VERSION}",
            str(path),
            "Update duskhand, or choose another directory with --dir",
        )


def _refuse_altered(connection: sqlite3.Connection, path: Path) -> None:
    expected = sqlite3.connect(":memory:", isolation_level=None)
    try:
        migrate(expected)
        wanted, found = _shape(expected), _shape(connection)
    finally:
        expected.close()
    wrong = sorted(f"{kind} {name}" for kind, name in wanted if found.get((kind, name)) != wanted[kind, name])
    if wrong:
        raise StoreError(
            "store-altered",
            f"the frame log is not as its schema says: {', '.join(wrong)}",
            str(path),
            "Restore the file from a backup, or move it away and let duskhand make a new one",
        )


def _shape(connection: sqlite3.Connection) -> dict[tuple[str, str], list[tuple[object, ...]]]:
    """Each table, view, index and trigger, with its columns where it has any."""
    named = connection.execute("SELECT type, name FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'").fetchall()
    columns = 'SELECT name, type, "notnull", pk FROM pragma_table_xinfo(?) ORDER BY cid'
    return {(kind, name): [tuple(row) for row in connection.execute(columns, (name,))] for kind, name in named}
