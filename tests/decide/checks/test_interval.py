"""Check interval. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.interval import interval
from tests.decide.checks import camera, plan


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({}, None, None),
        ({"write_s": None}, {}, "warn"),
        ({"write_s": 2.1}, {}, "fail"),
        ({"write_s": 1.8}, {}, "warn"),
        ({"write_s": 1.5}, {}, "pass"),
        ({"write_s": 0.1}, {"least_gap_s": 0.0}, "fail"),
    ],
)
def test_levels(facts, wanted, level):
    found = interval(camera(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
