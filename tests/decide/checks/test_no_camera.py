"""Check no_camera. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.no_camera import no_camera
from tests.decide.checks import camera, plan, rig


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({}, None, "fail"),
        ({"cameras": (camera(),)}, None, None),
    ],
)
def test_levels(facts, wanted, level):
    found = no_camera(rig(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
