"""What a bundle tells of the frame log; whatever of it can still be read, where it is damaged."""

from __future__ import annotations

import json
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from controller.store import schema

NOTES = 500
_CHECKED_S = 120.0
_TABLES = ("plans", "shoots", "frames", "notes", "cameras", "bodies", "sessions")


def frame_log(path: Path) -> dict[str, Any]:
    """Schema, integrity, counts, shoots and the last notes; each part that cannot be read says why.

    The file is opened to read only, and never made.
    """
    told: dict[str, Any] = {"file": path.name, "schema_known": schema.VERSION}
    try:
        told["bytes"] = path.stat().st_size
        connection = schema.connect(path, read_only=True)
    except (OSError, sqlite3.Error) as error:
        return told | {"refused": str(error)}
    try:
        end = time.monotonic() + _CHECKED_S
        connection.set_progress_handler(lambda: time.monotonic() > end, 100_000)
        for name, part in _PARTS.items():
            try:
                told[name] = part(connection)
            except (sqlite3.Error, ValueError, TypeError) as error:
                told[name] = f"cannot be read: {error}"
    finally:
        connection.close()
    return told


def _schema(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _ours(connection: sqlite3.Connection) -> bool:
    return bool(connection.execute("PRAGMA application_id").fetchone()[0] == schema.APPLICATION_ID)


def _counts(connection: sqlite3.Connection) -> dict[str, int | str]:
    counts: dict[str, int | str] = {}
    for table in _TABLES:
        try:
            counts[table] = int(connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0])
        except sqlite3.Error as error:
            counts[table] = f"cannot be read: {error}"
    return counts


def _shoots(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    rows = connection.execute("SELECT * FROM shoots ORDER BY key DESC LIMIT 20").fetchall()
    slots = connection.execute("SELECT shoot, state, frames FROM counts").fetchall()
    shoots = []
    for row in rows:
        told = {name: row[name] for name in row.keys()}  # noqa: SIM118  a row's iteration gives values
        for name in ("plan", "adjust"):
            told[name] = json.loads(told[name])
        shoots.append(told | {"slots": {s["state"]: s["frames"] for s in slots if s["shoot"] == row["key"]}})
    return shoots


def _notes(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    rows = connection.execute("SELECT * FROM notes ORDER BY id DESC LIMIT ?", (NOTES,)).fetchall()
    notes = ({name: row[name] for name in row.keys()} for row in reversed(rows))  # noqa: SIM118
    return [note | {"facts": json.loads(note["facts"])} for note in notes]


def _integrity(connection: sqlite3.Connection) -> list[str]:
    """As SQLite's own check has it (PRAGMA quick_check), which is 'ok' where all is well."""
    return [str(row[0]) for row in connection.execute("PRAGMA quick_check(20)")]


_PARTS: dict[str, Callable[[sqlite3.Connection], Any]] = {
    "schema": _schema,
    "ours": _ours,
    "counts": _counts,
    "shoots": _shoots,
    "notes": _notes,
    "integrity": _integrity,
}
