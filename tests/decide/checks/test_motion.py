"""Check motion rig. Where it draws lines is arithmetic: a move fits into the gap or it does not."""

from __future__ import annotations

import pytest

from controller.decide.checks.motion import motion
from tests.decide.checks import plan, rig


@pytest.mark.parametrize(
    ("needs_s", "wanted", "level"),
    [
        (None, {}, None),
        (1.5, None, "pass"),
        (1.5, {}, "pass"),  # a gap of 2 s
        (2.0, {}, "pass"),
        (2.5, {}, "warn"),
        (10.0, {}, "fail"),  # the shortest interval is 10 s
        (0.5, {"least_gap_s": 0.4}, "warn"),
    ],
)
def test_levels(needs_s, wanted, level):
    found = motion(rig(motion_s=needs_s), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")


def test_the_remedy_holds_the_move():
    found = motion(rig(motion_s=2.53), plan())
    assert found is not None
    assert "min_gap_s = 2.6" in (found.remedy or "")
