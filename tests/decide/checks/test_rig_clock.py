"""Check rig_clock. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.rig_clock import rig_clock
from tests.decide.checks import plan, rig


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({}, None, "warn"),
        ({"synchronised": False}, None, "warn"),
        ({"synchronised": True}, None, "pass"),
        ({"synchronised": False, "battery_off_s": 0.6}, None, "pass"),
        ({"synchronised": False, "battery_off_s": -86_400.0}, None, "warn"),
    ],
)
def test_levels(facts, wanted, level):
    found = rig_clock(rig(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
