"""Check pi_power. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.pi_power import pi_power
from tests.decide.checks import plan, rig


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({}, None, None),
        ({"is_pi": True}, None, "warn"),
        ({"is_pi": True, "throttled": 0x0}, None, "pass"),
        ({"is_pi": True, "throttled": 0x10000}, None, "warn"),
        ({"is_pi": True, "throttled": 0x50005}, None, "fail"),
        ({"is_pi": True, "throttled": 0x4}, None, "pass"),
    ],
)
def test_levels(facts, wanted, level):
    found = pi_power(rig(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
