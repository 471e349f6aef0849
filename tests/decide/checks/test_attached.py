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


@pytest.mark.parametrize(
    ("trouble", "what", "remedy"),
    [
        (None, "No camera answers at usb:001,004", "Switch it on, wake it, and look at its cable"),
        ("asleep", "camera-1 is not there: asleep", "Switch it on, wake it, and look at its cable"),
        (
            "the camera at ptpip:192.0.2.1 does not answer. Switch it on, and see that its network is on",
            "camera-1 is not there: the camera at ptpip:192.0.2.1 does not answer",
            "Switch it on, and see that its network is on",
        ),
    ],
)
def test_one_that_is_away_is_told_once_and_with_one_remedy(trouble, what, remedy):
    found = attached(camera(model=None, trouble=trouble, address="usb:001,004"), None)
    assert (found.what, found.remedy) == (what, remedy)
