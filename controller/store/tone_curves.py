"""Tone curves that were learned, one for each body and picture style. Each function is a job for `Database`."""

from __future__ import annotations

import itertools
import json
import math
import sqlite3
from dataclasses import dataclass
from typing import NamedTuple

UNKNOWN_STYLE = "unknown"


class BodyKey(NamedTuple):
    """A body and the picture style that it is set to; UNKNOWN_STYLE where it does not tell."""

    model: str
    serial: str
    style: str


@dataclass(frozen=True, slots=True)
class ToneCurve:
    """256 ascending values of linear light, 1 at the top. `quality_ev` is how far two halves of the pictures disagreed,
    EV rms; `source` is bracket or steps; `learned_utc` POSIX seconds."""

    linear: tuple[float, ...]
    quality_ev: float
    source: str
    learned_utc: float


def put_curve(connection: sqlite3.Connection, body: BodyKey, curve: ToneCurve) -> None:
    """Keep or replace."""
    text = json.dumps([float(f"{value:.7g}") for value in curve.linear])
    connection.execute(
        "INSERT OR REPLACE INTO tone_curves VALUES (?, ?, ?, ?, ?, ?, ?)",
        (*body, text, curve.quality_ev, curve.source, curve.learned_utc),
    )


def get_curve(connection: sqlite3.Connection, body: BodyKey) -> ToneCurve | None:
    """None where none was learned, and where what is kept is no curve: then sRGB is better than it."""
    row = connection.execute(
        "SELECT * FROM tone_curves WHERE model = ? AND serial = ? AND style = ?", tuple(body)
    ).fetchone()
    if row is None:
        return None
    try:
        linear = tuple(float(value) for value in json.loads(row["linear"]))
    except (TypeError, ValueError):
        return None
    if len(linear) != 256 or not all(map(math.isfinite, linear)) or linear[0] < 0 or linear[-1] != 1:
        return None
    if any(after <= before for before, after in itertools.pairwise(linear)):
        return None
    return ToneCurve(linear, row["quality_ev"], row["source"], row["learned_utc"])
