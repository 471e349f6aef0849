"""Tone curves in the frame log, and logs of the schema before them."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from controller.store import Store, schema
from controller.store.tone_curves import UNKNOWN_STYLE, BodyKey, ToneCurve

BODY = BodyKey("Camera One", "00017", "Neutral")
CURVE = ToneCurve(tuple((code / 255) ** 2.2 for code in range(256)), 0.02, "bracket", 1_796_140_800.0)


async def test_a_curve_is_kept_for_its_body_and_style_only(store: Store, path: Path):
    await store.put_curve(BODY, CURVE)
    kept = await store.curve(BODY)
    assert kept is not None
    assert kept.linear == pytest.approx(CURVE.linear, rel=1e-6)
    assert replace(kept, linear=CURVE.linear) == CURVE
    for other in (BODY._replace(style=UNKNOWN_STYLE), BODY._replace(serial="00018"), BODY._replace(model="Two")):
        assert await store.curve(other) is None
    await store.put_curve(BODY, replace(CURVE, quality_ev=0.01, source="steps"))
    again = await store.curve(BODY)
    assert again is not None
    assert (again.quality_ev, again.source) == (0.01, "steps")
    async with await Store.open(path, read_only=True) as reader:
        assert await reader.curve(BODY) == again


@pytest.mark.parametrize(
    "linear",
    [
        "nonsense",
        "7",
        "[]",
        json.dumps([0.0] * 256),
        json.dumps([1 - code / 255 for code in range(256)]),
        json.dumps([code / 254 for code in range(256)]),
        json.dumps([None] * 256),
        json.dumps([0.0, *[0.5] * 254, 1.0]),
    ],
)
async def test_what_is_no_curve_is_not_given_out(store: Store, path: Path, linear: str):
    await store.put_curve(BODY, CURVE)
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE tone_curves SET linear = ?", (linear,))
    connection.close()
    assert await store.curve(BODY) is None


async def test_a_log_from_before_gets_the_table(path: Path):
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
    connection.executescript(f"BEGIN;\n{schema._STEPS[0]}\nPRAGMA user_version = 1;\nCOMMIT;")
    connection.close()
    async with await Store.open(path) as store:
        await store.put_curve(BODY, CURVE)
        assert await store.curve(BODY) is not None
