"""Check attached. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.attached import attached
from tests.decide.checks import camera, plan


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({}, None, "pass"),
        ({"model": None, "trouble": "asleep"}, None, "fail"),
        ({"trouble": "busy"}, None, "warn"),
    ],
)
def test_levels(facts, wanted, level):
    found = attached(camera(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
