"""What bodies were seen to do. Each function is a job for `Database`."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

from controller.words.bodies import MEASURES, BeatFound, BodySeen, Timing, Timings
from controller.words.distribution import Distribution
from controller.words.errors import StoreError

Times = Mapping[str, Mapping[str, Distribution]]
"""By kind of files, then by measure."""

_FIELDS = tuple(name for name in BodySeen.model_fields if name not in ("timings", "beats"))
_SIZE = ("files", "frame_bytes", "basis", "frames")  # these belong together
_KEPT = ("preview_bytes",)
_BEAT = tuple(BeatFound.model_fields)


def put_body(connection: sqlite3.Connection, body: BodySeen) -> None:
    """Keep what is new of a body; of what was not seen this time, sizes stay as they were."""
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


def add_times(connection: sqlite3.Connection, model: str, serial: str, times: Times) -> None:
    """Add what was measured of a body to what is kept of it. Raises StoreError."""
    kept = _times(connection, model, serial)
    for files, measures in times.items():
        for measure, fresh in measures.items():
            whole = kept.get(files, {}).get(measure, Distribution())
            whole.merge(fresh)
            whole.thin()
            connection.execute(
                "INSERT OR REPLACE INTO body_times (model, serial, files, measure, counts, most) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                (model, serial, files, measure, whole.text(), whole.most),
            )


def put_beat(connection: sqlite3.Connection, model: str, serial: str, beat: BeatFound) -> None:
    """Keep it in the place of the last one with the same kind of files; the body itself may not be known yet."""
    facts = beat.model_dump()
    connection.execute(
        "INSERT OR IGNORE INTO bodies (model, serial, seen_utc) VALUES (?, ?, ?)", (model, serial, beat.utc)
    )
    connection.execute(
        f"INSERT OR REPLACE INTO body_beats (model, serial, {', '.join(_BEAT)}) "
        f"VALUES (?, ?, {', '.join('?' * len(_BEAT))})",
        [model, serial, *(facts[name] for name in _BEAT)],
    )


def bodies(connection: sqlite3.Connection) -> list[BodySeen]:
    """Every body that was seen, the last one first. Raises StoreError."""
    rows = connection.execute(f"SELECT {', '.join(_FIELDS)} FROM bodies ORDER BY seen_utc DESC").fetchall()
    return [
        BodySeen(
            **dict(row),
            timings=_told(_times(connection, row["model"], row["serial"])),
            beats=_beats(connection, row["model"], row["serial"]),
        )
        for row in rows
    ]


def _times(connection: sqlite3.Connection, model: str, serial: str) -> dict[str, dict[str, Distribution]]:
    query = "SELECT files, measure, counts, most FROM body_times WHERE model = ? AND serial = ? ORDER BY files"
    found: dict[str, dict[str, Distribution]] = {}
    for row in connection.execute(query, (model, serial)):
        try:
            found.setdefault(row["files"], {})[row["measure"]] = Distribution.of(row["counts"], row["most"])
        except ValueError as error:
            what = f"what was measured of {model} ({row['measure']}, {row['files']}) cannot be read: {error}"
            remedy = "Delete that row of the table body_times with sqlite3; it is learned again"
            raise StoreError("store-damaged", what, remedy=remedy) from error
    return found


def _told(times: Times) -> list[Timings]:
    def timing(measure: Distribution) -> Timing:
        p50, p95, p99 = (measure.percentile(percent) for percent in (50, 95, 99))
        return Timing(count=measure.count, p50=p50, p95=p95, p99=p99, most=measure.most)

    return [
        Timings(files=files, **{name: timing(each) for name, each in measures.items() if name in MEASURES})
        for files, measures in times.items()
    ]


def _beats(connection: sqlite3.Connection, model: str, serial: str) -> list[BeatFound]:
    query = f"SELECT {', '.join(_BEAT)} FROM body_beats WHERE model = ? AND serial = ? ORDER BY utc DESC"
    return [BeatFound.model_validate(dict(row)) for row in connection.execute(query, (model, serial))]
