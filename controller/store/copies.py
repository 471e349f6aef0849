"""What is copied where, what waits, and what was deleted for it. Each function is a job for `Database`."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from controller.store.frame_log import get_frame
from controller.words.documents import Frame

_PLACE = "(SELECT key FROM places WHERE name = ? AND active)"


@dataclass(frozen=True, slots=True)
class PlaceCounts:
    """Frames of one place, and their bytes."""

    waiting: int
    waiting_bytes: int
    copied: int
    copied_bytes: int
    stuck: list[str]


def set_places(connection: sqlite3.Connection, places: Mapping[str, str]) -> None:
    """Have these places, name to target, and no others; what is fetched and not known to be there is ordered."""
    known = {(row["name"], row["target"]): row for row in connection.execute("SELECT * FROM places")}
    for (name, target), row in known.items():
        if row["active"] and places.get(name) != target:
            connection.execute("UPDATE places SET active = 0 WHERE key = ?", (row["key"],))
    for name, target in places.items():
        there = known.get((name, target))
        if there is not None and there["active"]:
            continue
        key = connection.execute(
            "INSERT INTO places (name, target, active) VALUES (?, ?, 1)"
            " ON CONFLICT DO UPDATE SET active = 1 RETURNING key",
            (name, target),
        ).fetchone()["key"]
        connection.execute(
            "INSERT OR IGNORE INTO copies (frame, place) SELECT id, ? FROM frames"
            " WHERE state = 'fetched' AND rig_freed_utc IS NULL",
            (key,),
        )


def waiting(connection: sqlite3.Connection, place: str, limit: int) -> list[Frame]:
    """The oldest frames that are to be copied there, those that are stuck left out."""
    rows = connection.execute(
        f"SELECT frame FROM copies WHERE place = {_PLACE} AND verified_utc IS NULL AND stuck IS NULL"
        " ORDER BY frame LIMIT ?",
        (place, limit),
    ).fetchall()
    return [get_frame(connection, row["frame"]) for row in rows]


def waiting_count(connection: sqlite3.Connection, place: str) -> int:
    row = connection.execute(
        f"SELECT count(*) AS n FROM copies WHERE place = {_PLACE} AND verified_utc IS NULL", (place,)
    ).fetchone()
    return int(row["n"])


def set_copy(
    connection: sqlite3.Connection, frame: int, place: str, verified_utc: float | None, stuck: str | None
) -> None:
    """Keep that a copy is verified, that it waits (again), or why it cannot be made."""
    connection.execute(
        f"UPDATE copies SET verified_utc = ?, stuck = ? WHERE frame = ? AND place = {_PLACE}",
        (verified_utc, stuck, frame, place),
    )


def unstick(connection: sqlite3.Connection) -> None:
    """Have what is stuck tried once more."""
    connection.execute("UPDATE copies SET stuck = NULL WHERE verified_utc IS NULL AND stuck IS NOT NULL")


def counts(connection: sqlite3.Connection, place: str) -> PlaceCounts:
    row = connection.execute(
        "SELECT count(*) AS n, coalesce(sum(f.bytes), 0) AS bytes, count(y.verified_utc) AS copied,"
        " coalesce(sum(f.bytes) FILTER (WHERE y.verified_utc IS NOT NULL), 0) AS copied_bytes"
        f" FROM copies AS y JOIN frames AS f ON f.id = y.frame WHERE y.place = {_PLACE}",
        (place,),
    ).fetchone()
    stuck = connection.execute(
        "SELECT s.id, f.seq, y.stuck FROM copies AS y JOIN frames AS f ON f.id = y.frame JOIN shoots AS s"
        f" ON s.key = f.shoot WHERE y.place = {_PLACE} AND y.verified_utc IS NULL AND y.stuck IS NOT NULL LIMIT 100",
        (place,),
    ).fetchall()
    return PlaceCounts(
        waiting=row["n"] - row["copied"],
        waiting_bytes=row["bytes"] - row["copied_bytes"],
        copied=row["copied"],
        copied_bytes=row["copied_bytes"],
        stuck=[f"{each['id']}, frame {each['seq']}: {each['stuck']}" for each in stuck],
    )


def freed(connection: sqlite3.Connection) -> tuple[int, int]:
    """Frames whose files were deleted from the rig, and from a card."""
    row = connection.execute("SELECT count(rig_freed_utc) AS rig, count(card_freed_utc) AS card FROM frames").fetchone()
    return int(row["rig"]), int(row["card"])


def verified_in(connection: sqlite3.Connection, frame: int) -> set[str]:
    """Active places that have a verified copy, as far as the log knows."""
    rows = connection.execute(
        "SELECT p.name FROM copies AS y JOIN places AS p ON p.key = y.place"
        " WHERE y.frame = ? AND y.verified_utc IS NOT NULL AND p.active",
        (frame,),
    )
    return {row["name"] for row in rows}


def ruled_shoots(connection: sqlite3.Connection) -> dict[str, dict[str, Any]]:
    """Shoots whose plans allow anything to be deleted: id -> the plan's table `files`."""
    rows = connection.execute(
        "SELECT id, json_extract(plan, '$.files') AS files FROM shoots WHERE"
        " coalesce(json_extract(plan, '$.files.keep'), 'all') <> 'all'"
        " OR coalesce(json_extract(plan, '$.files.free_card'), 'never') <> 'never' ORDER BY key"
    )
    return {row["id"]: json.loads(row["files"]) for row in rows}


def fetched_frames(
    connection: sqlite3.Connection,
    shoot: str,
    *,
    on_card: bool,
    before_utc: float,
    copies: int,
    after: int,
    limit: int,
) -> list[Frame]:
    """Frames of a shoot by number, above `after`, due before a moment, whose files are on the rig, or on the card, and
    which are in so many places as far as the log knows."""
    where = "card_freed_utc" if on_card else "rig_freed_utc"
    rows = connection.execute(
        "SELECT f.id FROM frames AS f JOIN shoots AS s ON s.key = f.shoot WHERE s.id = ? AND f.seq > ?"
        f" AND f.state = 'fetched' AND f.{where} IS NULL AND f.due_utc < ?"
        " AND (SELECT count(*) FROM copies AS y JOIN places AS p ON p.key = y.place"
        " WHERE y.frame = f.id AND y.verified_utc IS NOT NULL AND p.active) >= ? ORDER BY f.seq LIMIT ?",
        (shoot, after, before_utc, copies, limit),
    ).fetchall()
    return [get_frame(connection, row["id"]) for row in rows]


def newer_on_card(connection: sqlite3.Connection, frame: Frame, at_most: int) -> int:
    """Frames of its camera after this one that are on the card, counted up to `at_most`."""
    row = connection.execute(
        "SELECT count(*) AS n FROM (SELECT 1 FROM frames WHERE id > ? AND camera_file IS NOT NULL"
        " AND card_freed_utc IS NULL AND camera = (SELECT key FROM cameras WHERE name = ?) LIMIT ?)",
        (frame.id, frame.camera, at_most),
    ).fetchone()
    return int(row["n"])


def mark_freed(connection: sqlite3.Connection, frames: Iterable[int], where: str, utc: float | None) -> None:
    """Keep that these frames' files are deleted from `rig` or `card`; None takes that back."""
    column = {"rig": "rig_freed_utc", "card": "card_freed_utc"}[where]
    connection.executemany(f"UPDATE frames SET {column} = ? WHERE id = ?", [(utc, frame) for frame in frames])
