"""Shoots and notes. Each function is a job for `Database`."""

from __future__ import annotations

import json
import sqlite3
from typing import Any

from controller.store.plans import content_hash
from controller.words.documents import ENDED, FrameCounts, Note, Shoot
from controller.words.errors import Conflict, NotFound

_COLUMNS = tuple(name for name in Shoot.model_fields if name not in ("counts", "plan_sha256"))
_JSON = frozenset({"plan", "adjust"})
_ENDED = tuple(sorted(ENDED))


def add_shoot(connection: sqlite3.Connection, shoot: Shoot) -> Shoot:
    values = [_value(name, getattr(shoot, name)) for name in _COLUMNS]
    try:
        connection.execute(
            f"INSERT INTO shoots ({', '.join(_COLUMNS)}) VALUES ({', '.join('?' * len(_COLUMNS))})", values
        )
    except sqlite3.IntegrityError as error:
        raise Conflict("shoot-exists", "a shoot of this id is there already", shoot.id, "Take another id") from error
    return get_shoot(connection, shoot.id)


def change_shoot(connection: sqlite3.Connection, shoot: str, fields: dict[str, Any]) -> Shoot:
    unknown = fields.keys() - set(_COLUMNS) | (fields.keys() & {"id"})
    if unknown or not fields:
        raise TypeError(f"a shoot's {', '.join(sorted(unknown)) or 'nothing'} cannot be changed")
    sets = ", ".join(f"{name} = ?" for name in fields)
    values = [_value(name, value) for name, value in fields.items()]
    connection.execute(f"UPDATE shoots SET {sets} WHERE id = ?", [*values, shoot])
    return get_shoot(connection, shoot)


def get_shoot(connection: sqlite3.Connection, shoot: str) -> Shoot:
    row = connection.execute("SELECT * FROM shoots WHERE id = ?", (shoot,)).fetchone()
    if row is None:
        raise _unknown(shoot)
    return _shoot(connection, row)


def shoots(connection: sqlite3.Connection) -> list[Shoot]:
    """All, oldest first."""
    return [_shoot(connection, row) for row in connection.execute("SELECT * FROM shoots ORDER BY created_utc, key")]


def open_shoots(connection: sqlite3.Connection) -> list[Shoot]:
    """Those that have not ended, oldest first."""
    marks = ", ".join("?" * len(_ENDED))
    rows = connection.execute(f"SELECT * FROM shoots WHERE state NOT IN ({marks}) ORDER BY created_utc, key", _ENDED)
    return [_shoot(connection, row) for row in rows]


def shoot_key(connection: sqlite3.Connection, shoot: str) -> int:
    row = connection.execute("SELECT key FROM shoots WHERE id = ?", (shoot,)).fetchone()
    if row is None:
        raise _unknown(shoot)
    return int(row["key"])


def counts(connection: sqlite3.Connection, key: int, camera: str | None = None) -> FrameCounts:
    """Slots per state; those of one camera are counted where others are in the log too."""
    if camera is None or not _others(connection, camera):
        rows = connection.execute("SELECT state, frames FROM counts WHERE shoot = ? AND state <> 'due'", (key,))
    else:
        rows = connection.execute(
            "SELECT state, count(*) AS frames FROM frames WHERE shoot = ? AND state <> 'due'"
            " AND camera = (SELECT key FROM cameras WHERE name = ?) GROUP BY state",
            (key, camera),
        )
    return FrameCounts(**{row["state"]: row["frames"] for row in rows})


def _others(connection: sqlite3.Connection, camera: str) -> bool:
    """Whether any other camera ever shot on this rig."""
    return connection.execute("SELECT 1 FROM cameras WHERE name <> ?", (camera,)).fetchone() is not None


def note(connection: sqlite3.Connection, note: Note) -> Note:
    key = None if note.shoot is None else shoot_key(connection, note.shoot)
    row = connection.execute(
        "INSERT INTO notes (utc, shoot, kind, text, facts) VALUES (?, ?, ?, ?, ?) RETURNING id",
        (note.utc, key, note.kind, note.text, json.dumps(note.facts, ensure_ascii=False)),
    ).fetchone()
    return note.model_copy(update={"id": row["id"]})


def notes(connection: sqlite3.Connection, shoot: str | None, limit: int, kind: str | None = None) -> list[Note]:
    """The newest `limit` notes, of one shoot or of all and the rig, of one kind or of all; oldest first."""
    conditions: list[str] = ["TRUE"]
    values: list[Any] = []
    if shoot is not None:
        conditions.append("n.shoot = ?")
        values.append(shoot_key(connection, shoot))
    if kind is not None:
        conditions.append("n.kind = ?")
        values.append(kind)
    rows = connection.execute(
        "SELECT n.id, n.utc, s.id AS shoot, n.kind, n.text, n.facts FROM notes AS n"
        f" LEFT JOIN shoots AS s ON s.key = n.shoot WHERE {' AND '.join(conditions)}"
        " ORDER BY n.id DESC LIMIT ?",
        [*values, limit],
    ).fetchall()
    return [Note(**{**dict(row), "facts": json.loads(row["facts"])}) for row in reversed(rows)]


def _value(name: str, value: Any) -> Any:
    return json.dumps(value, ensure_ascii=False) if name in _JSON else value


def _shoot(connection: sqlite3.Connection, row: sqlite3.Row) -> Shoot:
    values = {name: json.loads(row[name]) if name in _JSON else row[name] for name in _COLUMNS}
    return Shoot(**values, plan_sha256=content_hash(values["plan"]), counts=counts(connection, row["key"]))


def _unknown(shoot: str) -> NotFound:
    return NotFound("no-such-shoot", "no shoot of this id is in the log", shoot, "List them with `duskhand shoots`")
