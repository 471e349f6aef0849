"""A database that cannot be trusted any more: how that is found, and how it is put aside.

All of it is read only after an end that was not in order, which SQLite shows itself: the last one to close a database
takes the write-ahead log away (SQLite's documentation, "Write-Ahead Logging").
"""

from __future__ import annotations

import contextlib
import sqlite3
from datetime import UTC, datetime
from pathlib import Path

from controller.store.files import beside
from controller.words.errors import StoreError
from controller.words.synced import sync_directory

FOUND = "-damaged"
"""Beside the database, where damage was found while it was in use: with the next start it is put aside."""

CHECK_BYTES = 16_000_000
"""A larger database is checked while shoots go on: the check reads all of it."""


def marker(path: Path) -> Path:
    return beside(path, FOUND)


def mark(path: Path) -> bool:
    """Have the next start look at all of it. False where the disk takes no marker: then it is the disk that fails."""
    try:
        marker(path).touch()
    except OSError:
        return False
    return True


def check(path: Path, how: str = "quick_check") -> str | None:
    """What SQLite's own check finds: None where all is well. Raises sqlite3.Error where it cannot be opened."""
    with contextlib.closing(_connect(path)) as connection:
        found = [" ".join(str(row[0]).split()) for row in connection.execute(f"PRAGMA {how}(3)")]
    return None if found == ["ok"] else "; ".join(found)


def put_aside(path: Path, now_utc: float) -> tuple[Path, str] | None:
    """Where a database is damaged: rename it, and say under which name and why. None where it may be used.

    Nobody may have it open. Raises StoreError where it cannot be renamed.
    """
    why = _trouble(path)
    if why is None:
        return None
    try:
        return _rename(path, now_utc), why
    except OSError as error:
        what = f"it is damaged ({why}), and cannot be put aside: {error.strerror or error}"
        raise StoreError("store-unreachable", what, str(path), "Check the directory and its owner") from error


def _trouble(path: Path) -> str | None:
    wal = beside(path, "-wal")
    if not path.is_file():
        return None
    if path.stat().st_size == 0:  # SQLite would throw away what its write-ahead log holds
        return "the file is empty" if wal.exists() and wal.stat().st_size else None
    try:
        if marker(path).exists():
            found = check(path, "integrity_check")
            if found is None:  # reading failed then, and does not now
                marker(path).unlink()
            return found
        if wal.exists() and path.stat().st_size <= CHECK_BYTES:
            return check(path)
        with contextlib.closing(_connect(path)) as connection:
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.Error as error:
        return str(error) if is_damage(error) else None  # of all else the one who opens it tells
    return None


def _connect(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(path.absolute().as_uri() + "?mode=ro", uri=True)


def is_damage(error: sqlite3.Error) -> bool:
    """Whether SQLite says that the file is not what it should be."""
    name = getattr(error, "sqlite_errorname", None) or ""
    return name == "SQLITE_NOTADB" or name.startswith("SQLITE_CORRUPT")


def _rename(path: Path, now_utc: float) -> Path:
    kept = path.with_name(f"{path.name}.damaged-{datetime.fromtimestamp(now_utc, UTC):%Y%m%dT%H%M%SZ}")
    for ending in ("-wal", ""):  # together they can be read by `sqlite3 FILE .recover`
        if (old := beside(path, ending)).exists():
            old.replace(beside(kept, ending))
    for ending in ("-shm", FOUND):
        beside(path, ending).unlink(missing_ok=True)
    sync_directory(path.parent)
    return kept
