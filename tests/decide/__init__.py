"""Tests of what decides: plans, sun, windows, pace, exposure, light."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from pathlib import Path

from controller.decide.plan import Plan, plan_from, read_plan

PLANS = sorted((Path(__file__).parent / "plans").glob("*.toml"))


def utc(text: str) -> float:
    """POSIX seconds of an ISO time in UTC, or with its own offset."""
    when = datetime.fromisoformat(text)
    return (when if when.tzinfo else when.replace(tzinfo=UTC)).timestamp()


def example(name: str) -> Plan:
    """One of the example plans."""
    return read_plan((Path(__file__).parent / "plans" / f"{name}.toml").read_text("utf-8"))


def changed(plan: Plan, **tables: dict[str, object]) -> Plan:
    """A plan with keys of its tables replaced; a value of None removes the key; `kind` replaces the whole table."""
    document = plan.document()
    for table, keys in tables.items():
        base = {} if "kind" in keys else document.get(table, {})
        document[table] = {k: v for k, v in {**base, **keys}.items() if v is not None}
    return plan_from(document)


def frames_of_ramp(from_s: float, to_s: float, length_s: float, until_s: float | None = None) -> float:
    """∫dt/interval of an interval that runs linearly: T·ln(b/a)/(b−a), or up to `until_s` of it."""
    until_s = length_s if until_s is None else until_s
    growth = (to_s - from_s) / from_s * until_s / length_s
    return until_s / from_s * (math.log1p(growth) / growth if abs(growth) > 1e-9 else 1.0)
