"""Check battery. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.battery import battery
from tests.decide.checks import camera, plan


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({"battery_percent": None}, None, "warn"),
        ({"battery_percent": 10}, None, "fail"),
        ({"battery_percent": 49}, None, "warn"),
        ({"battery_percent": 50}, None, "pass"),
    ],
)
def test_levels(facts, wanted, level):
    found = battery(camera(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
