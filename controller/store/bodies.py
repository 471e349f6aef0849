"""What bodies were seen to do. Each function is a job for `Database`."""

from __future__ import annotations

import sqlite3

from controller.words.bodies import BodySeen

_FIELDS = tuple(BodySeen.model_fields)
_SIZE = ("files", "frame_bytes", "basis", "frames")  # these belong together
_KEPT = ("preview_bytes", "write_s")


def put_body(connection: sqlite3.Connection, body: BodySeen) -> None:
    """Keep what is new of a body; of what was not seen this time, sizes and write time stay as they were."""
    facts = body.model_dump()
    known = body.frame_bytes is not None
    updates = [f"{name} = excluded.{name}" for name in _FIELDS if name not in (*_SIZE, *_KEPT) and name != "model"]
    updates += [f"{name} = excluded.{name}" for name in _SIZE if known]
    updates += [f"{name} = coalesce(excluded.{name}, {name})" for name in _KEPT]
    connection.execute(
        f"INSERT INTO bodies ({', '.join(_FIELDS)}) VALUES ({', '.join('?' * len(_FIELDS))}) "
        f"ON CONFLICT (model, serial) DO UPDATE SET {', '.join(updates)}",
        [facts[name] for name in _FIELDS],
    )


def bodies(connection: sqlite3.Connection) -> list[BodySeen]:
    """Every body that was seen, the last one first."""
    rows = connection.execute(f"SELECT {', '.join(_FIELDS)} FROM bodies ORDER BY seen_utc DESC").fetchall()
    return [BodySeen.model_validate(dict(row)) for row in rows]
