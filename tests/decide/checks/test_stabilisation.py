"""Check stabilisation. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.stabilisation import stabilisation
from tests.decide.checks import camera, plan


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({}, None, "warn"),
    ],
)
def test_levels(facts, wanted, level):
    found = stabilisation(camera(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
