"""Pages of the frame log, as those who read it want them. Each function is a job for `Database`.

Every one of them is answered from an index, so that it takes no longer in a log of a million frames.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from controller.store.shoots import shoot_key
from controller.words.documents import Frame, FrameTrouble, TroubleCounts

_ALL = 2**62
_OF_CAMERA = " AND camera = (SELECT key FROM cameras WHERE name = :camera)"


@dataclass(frozen=True, slots=True)
class Page:
    """Slots with `after` < number < `before` that are not 'due': the first `limit`, or the last ones, newest first.

    Only those whose number `every` divides, of `camera`, with `trouble`, with a small picture on the rig, or with a
    name on the card.
    """

    after: int = 0
    before: int = _ALL
    limit: int = 500
    newest: bool = False
    every: int = 1
    camera: str | None = None
    trouble: FrameTrouble | None = None
    previews: bool = False
    named: bool = False

    def conditions(self) -> str:
        """Of table `frames`, by names that are this page's and `key`, the shoot's."""
        found = "shoot = :key AND seq > :after AND seq < :before"
        found += " AND state <> 'due'" if self.trouble is None else " AND trouble = :trouble"
        found += "" if self.every == 1 else " AND seq % :every = 0"
        found += " AND preview = 1" if self.previews else ""
        found += " AND camera_file IS NOT NULL" if self.named else ""
        return found + ("" if self.camera is None else _OF_CAMERA)


def frames(connection: sqlite3.Connection, shoot: str, page: Page) -> list[Frame]:
    """One page; cameras that share a slot stay together, even if that exceeds its limit. Raises NotFound."""
    values = {
        "key": shoot_key(connection, shoot),
        "after": page.after,
        "before": page.before,
        "every": page.every,
        "camera": page.camera,
        "trouble": page.trouble,
        "skip": max(page.limit, 1) - 1,
    }
    conditions, way = page.conditions(), "DESC" if page.newest else "ASC"
    last = connection.execute(
        f"SELECT seq FROM frames WHERE {conditions} ORDER BY seq {way} LIMIT 1 OFFSET :skip", values
    ).fetchone()
    if last is not None:
        values["after" if page.newest else "before"] = last["seq"] - 1 if page.newest else last["seq"] + 1
    rows = connection.execute(
        f"SELECT * FROM frame_log WHERE id IN (SELECT id FROM frames WHERE {conditions}) ORDER BY seq {way}, camera",
        values,
    )
    return [Frame.of_row(dict(row)) for row in rows]


def troubles(connection: sqlite3.Connection, shoot: str, camera: str | None) -> TroubleCounts:
    """How many slots are in which trouble. Raises NotFound."""
    rows = connection.execute(
        "SELECT trouble, count(*) AS frames FROM frames WHERE shoot = :key AND trouble IS NOT NULL"
        f"{'' if camera is None else _OF_CAMERA} GROUP BY trouble",
        {"key": shoot_key(connection, shoot), "camera": camera},
    )
    return TroubleCounts(**{row["trouble"]: row["frames"] for row in rows})
