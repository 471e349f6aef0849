"""Sessions of phones and scripts. Each function is a job for `Database`."""

from __future__ import annotations

import sqlite3

from controller.words.access import Rights, Session
from controller.words.errors import NotFound

_FIELDS = "id, name, rights, created_utc, seen_utc"


def add(connection: sqlite3.Connection, name: str, rights: Rights, secret: bytes, utc: float) -> Session:
    """`secret` is the SHA-256 of what the device shows."""
    row = connection.execute(
        f"INSERT INTO sessions (name, rights, secret, created_utc) VALUES (?, ?, ?, ?) RETURNING {_FIELDS}",
        (name, rights, secret, utc),
    ).fetchone()
    return Session(**dict(row))


def sessions(connection: sqlite3.Connection) -> dict[bytes, Session]:
    """By the SHA-256 of their secrets, the oldest first."""
    rows = connection.execute(f"SELECT {_FIELDS}, secret FROM sessions ORDER BY id").fetchall()
    return {row["secret"]: Session(**{name: row[name] for name in Session.model_fields}) for row in rows}


def seen(connection: sqlite3.Connection, session: int, utc: float) -> None:
    connection.execute("UPDATE sessions SET seen_utc = ? WHERE id = ?", (utc, session))


def revoke(connection: sqlite3.Connection, session: int) -> None:
    """Raises NotFound."""
    if connection.execute("DELETE FROM sessions WHERE id = ? RETURNING id", (session,)).fetchone() is None:
        what, remedy = "there is no such session", "List them with `duskhand pair --list`"
        raise NotFound("no-such-session", what, f"session {session}", remedy)
