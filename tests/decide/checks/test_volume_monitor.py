"""Check volume_monitor. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.volume_monitor import volume_monitor
from tests.decide.checks import camera, plan, rig


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({"holders": None}, None, None),
        ({"holders": ()}, None, "pass"),
        ({"holders": ("gvfsd-gphoto2",), "cameras": (camera(),)}, None, "warn"),
        ({"holders": ("gvfsd-gphoto2",), "cameras": (camera(model=None),)}, None, "fail"),
    ],
)
def test_levels(facts, wanted, level):
    found = volume_monitor(rig(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
