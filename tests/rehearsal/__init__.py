"""Rehearsals: the engine on a virtual clock."""

from __future__ import annotations

from typing import Any

from controller.decide.plan import Plan, plan_from
from controller.rehearsal import CameraModel, Rehearsal, Spread, rehearse_now
from controller.words.documents import Frame

NOW = 1_792_497_600.0  # 2026-10-20T12:00:00Z
EXACT = CameraModel(release_latency_s=0.0, readout_s=0.0, write_s=Spread(0.2))
"""A camera that adds nothing of its own."""


def plan(interval_s: float = 10.0, shutter_s: float = 1.0, **tables: Any) -> Plan:
    """A steady plan of fixed exposures from now on; `tables` take the place of whole tables."""
    return plan_from(
        {
            "name": "evening",
            "site": {"latitude": 57.66, "longitude": 11.72},
            "when": {"start": "now", "frames": 20},
            "pace": {"kind": "steady", "interval_s": interval_s, "min_gap_s": 0.5},
            "light": {"kind": "fixed", "shutter_s": shutter_s, "aperture": 5.6, "iso": 400},
            **tables,
        }
    )


FOLLOW = {"kind": "follow", "shutter_s": [0.0005, 15.0], "iso": [100, 1600], "aperture": [2.8, 2.8]}


def played(plan: Plan, settings: CameraModel = EXACT, **options: Any) -> tuple[Rehearsal, list[Frame]]:
    """A rehearsal and its rows."""
    rows: list[Frame] = []
    came = rehearse_now(plan, now_utc=options.pop("now_utc", NOW), settings=settings, on_frame=rows.append, **options)
    return came, rows
