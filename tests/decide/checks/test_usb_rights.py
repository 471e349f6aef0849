"""Check usb_rights. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.usb_rights import usb_rights
from tests.decide.checks import camera, plan, rig


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({"denied": None}, None, None),
        ({"denied": None, "cameras": (camera(),)}, None, "warn"),
        ({"denied": ()}, None, None),
        ({"denied": (), "cameras": (camera(),)}, None, "pass"),
        ({"denied": ("/dev/bus/usb/001/004",)}, None, "fail"),
    ],
)
def test_levels(facts, wanted, level):
    found = usb_rights(rig(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
