"""The frame log. Each function is a job for `Database`; see docs/write-order.md for when each is called."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterable
from operator import attrgetter
from typing import Any

from controller.store.shoots import shoot_key
from controller.words.documents import Frame
from controller.words.errors import Conflict, NotFound

_COLUMNS = tuple(
    name for name in Frame.model_fields if name not in ("id", "skew_ms", "copies")
)  # the others are given by the log
_FIXED = frozenset({"id", "shoot", "seq", "camera"})
_INSERT = f"INSERT INTO frames ({', '.join(_COLUMNS)}) VALUES ({', '.join('?' * len(_COLUMNS))}) RETURNING id"
_VALUES = attrgetter(*_COLUMNS)
_SHOOT, _CAMERA = _COLUMNS.index("shoot"), _COLUMNS.index("camera")
_SUMS = (_COLUMNS.index("sha256"), _COLUMNS.index("companion_sha256"))
_STEM = "rtrim(camera_file, replace(camera_file, '.', ''))"  # up to its last dot
_COMPANION = f"CASE WHEN instr(companion_file, '/') = 0 THEN {_STEM} || companion_file ELSE companion_file END"
_SHORTEN = (
    f"UPDATE frames SET companion_file = substr(companion_file, length({_STEM}) + 1) WHERE id = ?"
    f" AND length({_STEM}) > 0 AND substr(companion_file, 1, length({_STEM})) = {_STEM}"
    f" AND instr(substr(companion_file, length({_STEM}) + 1), '/') = 0"
)
_LIST = "List them with `duskhand frames`"
_JPEG = "({0} LIKE '%.jpg' OR {0} LIKE '%.jpeg')"  # LIKE makes no difference between A and a
_FIRST, _SECOND = _JPEG.format("local_file"), _JPEG.format("companion_file")
_OTHER = f"(NOT {_FIRST} OR (companion_file IS NOT NULL AND NOT {_SECOND}))"  # of a pair, or alone: RAW as a rule
_FILES = {"auto": "1", "fetched": f"({_FIRST} OR {_SECOND})", "embedded": _OTHER, "developed": _OTHER}
_BY_CAMERA = " AND (? IS NULL OR camera = ?)"


def add_frame(connection: sqlite3.Connection, frame: Frame) -> int:
    """Add a row; its id. Raises NotFound for an unknown shoot, Conflict where the slot is in the log."""
    return add_frames(connection, [frame])[0]


def add_frames(connection: sqlite3.Connection, frames: Iterable[Frame]) -> list[int]:
    """The same of many, mostly of one shoot and camera, of which a log that is made anew has months."""
    shoots: dict[str, int] = {}
    cameras: dict[str, int] = {}
    added = []
    for frame in frames:
        shoot, camera = shoots.get(frame.shoot), cameras.get(frame.camera)
        if shoot is None:
            shoot = shoots[frame.shoot] = shoot_key(connection, frame.shoot)
        if camera is None:
            camera = cameras[frame.camera] = _camera_key(connection, frame.camera)
        added.append(_add(connection, frame, shoot, camera))
    return added


def _camera_key(connection: sqlite3.Connection, name: str) -> int:
    connection.execute("INSERT OR IGNORE INTO cameras (name) VALUES (?)", (name,))
    return int(connection.execute("SELECT key FROM cameras WHERE name = ?", (name,)).fetchone()["key"])


def _add(connection: sqlite3.Connection, frame: Frame, shoot: int, camera: int) -> int:
    values = list(_VALUES(frame))
    values[_SHOOT], values[_CAMERA] = shoot, camera
    for place in _SUMS:
        values[place] = _value("sha256", values[place])
    try:
        added = connection.execute(_INSERT, values).fetchone()
    except sqlite3.IntegrityError as error:
        if error.sqlite_errorname != "SQLITE_CONSTRAINT_UNIQUE":
            raise
        where = f"{frame.shoot}, frame {frame.seq}, {frame.camera}"
        raise Conflict("frame-exists", "this slot is in the log already", where, "Take the next number") from error
    if frame.companion_file is not None:
        connection.execute(_SHORTEN, (added["id"],))
    return int(added["id"])


def change_frame(connection: sqlite3.Connection, shoot: str, seq: int, camera: str, fields: dict[str, Any]) -> Frame:
    """Set fields of a frame that is in the log. Raises NotFound where it is not."""
    unknown = fields.keys() - (set(_COLUMNS) - _FIXED)
    if unknown or not fields:
        raise TypeError(f"a frame's {', '.join(sorted(unknown)) or 'nothing'} cannot be changed")
    sets = ", ".join(f"{name} = ?" for name in fields)
    if "camera_file" in fields and "companion_file" not in fields:
        sets += f", companion_file = {_COMPANION}"  # by the name that it has until now
    changed = connection.execute(
        f"UPDATE frames SET {sets} WHERE shoot = (SELECT key FROM shoots WHERE id = ?) AND seq = ?"
        " AND camera = (SELECT key FROM cameras WHERE name = ?) RETURNING id",
        [*(_value(name, value) for name, value in fields.items()), shoot, seq, camera],
    ).fetchone()
    if changed is None:
        raise NotFound("no-such-frame", "this frame is not in the log", f"{shoot}, frame {seq}, {camera}", _LIST)
    if fields.keys() & {"camera_file", "companion_file"}:
        connection.execute(_SHORTEN, (changed["id"],))
    return get_frame(connection, changed["id"])


def get_frame(connection: sqlite3.Connection, frame: int) -> Frame:
    found = _select(connection, "id = ?", (frame,))
    if not found:
        raise NotFound("no-such-frame", "no frame of this number is in the log", f"frame {frame}", _LIST)
    return found[0]


def last_frame(connection: sqlite3.Connection, shoot: str, camera: str | None) -> Frame | None:
    """The slot with the highest number, in whatever state: the next one counts on from it."""
    found = _select(
        connection, f"shoot = ?{_BY_CAMERA} ORDER BY seq DESC, camera DESC LIMIT 1", (shoot, camera, camera)
    )
    return found[0] if found else None


def has_pictures(connection: sqlite3.Connection, shoot: str, camera: str | None, source: str) -> bool:
    """Whether rows tell of files on the rig for a clip of this source; the files are not looked at."""
    files = f"(local_file IS NOT NULL AND rig_freed_utc IS NULL AND {_FILES[source]})"
    if source == "auto":
        files = f"({files} OR preview = 1)"
    where = f"shoot = ?{_BY_CAMERA} AND {files} LIMIT 1"
    return connection.execute(f"SELECT 1 FROM frame_log WHERE {where}", (shoot, camera, camera)).fetchone() is not None


def open_frames(connection: sqlite3.Connection, shoot: str, camera: str | None) -> list[Frame]:
    """Slots whose end is not known: 'due' or 'released'."""
    where = f"shoot = ? AND state IN ('due', 'released'){_BY_CAMERA} ORDER BY seq, camera"
    return _select(connection, where, (shoot, camera, camera))


def unfetched(
    connection: sqlite3.Connection, shoot: str, start: int, limit: int, every: int, camera: str | None
) -> list[Frame]:
    """Slots from `start` on, of every so manyth, that are on the card only ('written'); the first `limit`."""
    where = f"shoot = ? AND seq >= ? AND seq % ? = 0 AND state = 'written'{_BY_CAMERA} ORDER BY seq, camera LIMIT ?"
    return _select(connection, where, (shoot, start, every, camera, camera, limit))


def unnamed(connection: sqlite3.Connection, shoot: str, paths: Collection[str], camera: str) -> set[str]:
    """Those of a card's files that no row of this camera names. The rows are gone through and not kept."""
    left = set(paths)
    rows = connection.execute(
        f"SELECT camera_file, {_COMPANION} FROM frames WHERE shoot = ?"
        " AND camera = (SELECT key FROM cameras WHERE name = ?) AND camera_file IS NOT NULL",
        (shoot_key(connection, shoot), camera),
    )
    for row in rows:
        left.difference_update(row)
    return left


def withdraw(connection: sqlite3.Connection, shoot: str, seq: int, camera: str) -> None:
    """Take back the intent to release a slot. Raises NotFound unless it is 'due'."""
    gone = connection.execute(
        "DELETE FROM frames WHERE state = 'due' AND shoot = (SELECT key FROM shoots WHERE id = ?) AND seq = ?"
        " AND camera = (SELECT key FROM cameras WHERE name = ?) RETURNING id",
        (shoot, seq, camera),
    ).fetchone()
    if gone is None:
        raise NotFound("no-such-frame", "no slot of this number is due", f"{shoot}, frame {seq}, {camera}", _LIST)


def _select(connection: sqlite3.Connection, where: str, values: tuple[Any, ...]) -> list[Frame]:
    return [Frame.of_row(dict(row)) for row in connection.execute(f"SELECT * FROM frame_log WHERE {where}", values)]


def _value(name: str, value: Any) -> Any:
    if name in ("sha256", "companion_sha256") and value is not None:
        return bytes.fromhex(value)
    return value
