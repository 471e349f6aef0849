"""Check pi_heat. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.pi_heat import pi_heat
from tests.decide.checks import plan, rig


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({}, None, None),
        ({"is_pi": True}, None, "warn"),
        ({"temperature_c": 50.0}, None, "pass"),
        ({"temperature_c": 76.0}, None, "warn"),
        ({"temperature_c": 85.0}, None, "fail"),
        ({"throttled": 0x4}, None, "warn"),
        ({"throttled": 0x8, "temperature_c": 60.0}, None, "warn"),
        ({"throttled": 0x1, "temperature_c": 60.0}, None, "pass"),
    ],
)
def test_levels(facts, wanted, level):
    found = pi_heat(rig(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
