"""Shoots through faults drawn by a number; `python -m tests.bench.fault_schedules` runs a hundred longer ones."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import pytest

from tests.support.fault_schedule import KINDS, draw, shoot_through


@pytest.mark.parametrize("seed", [11, 12, 13])
async def test_the_log_tells_what_the_camera_did(tmp_path: Path, seed: int):
    kinds = KINDS[seed % 3 :: 3]
    outcome = await shoot_through(draw(seed, 36, kinds, mute_s=5.0), tmp_path)
    assert outcome.well, asdict(outcome)
    assert sorted(kind for kind, *_ in outcome.faults) == sorted(kinds)
    assert outcome.done + outcome.lost >= 36
