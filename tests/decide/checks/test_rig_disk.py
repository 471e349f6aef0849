"""Check rig_disk. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.rig_disk import rig_disk
from tests.decide.checks import plan, rig


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({}, None, "warn"),
        ({"free_bytes": 999_999_999}, None, "warn"),
        ({"free_bytes": 10**10}, {}, "pass"),
        ({"free_bytes": 10**10}, {"rig_bytes": 1.1e10}, "fail"),
    ],
)
def test_levels(facts, wanted, level):
    found = rig_disk(rig(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
