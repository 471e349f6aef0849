"""Check wiring."""

from __future__ import annotations

import pytest

from controller.decide.checks.wiring import wiring
from tests.decide.checks import camera, plan, rig


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({}, {}, None),
        ({"wired": True}, {}, "pass"),
        ({"wired": True}, None, "pass"),
        ({"wired": True, "wiring_troubles": ("rig.toml, [motion]: pin 17 cannot be used",)}, {}, "warn"),
        ({"wired": True, "wiring_refusal": "rig.toml, line 2: is no pin. Use 2 to 27"}, {}, "fail"),
        ({"wired": True}, {"on_pulses": True}, "fail"),
        ({}, {"on_pulses": True}, "fail"),
        ({"wired": True, "contacts_of": "camera-1", "cameras": (camera(),)}, {}, "pass"),
        ({"wired": True, "contacts_of": "camera-2", "cameras": (camera(),)}, {}, "warn"),
        ({"wired": True, "has_trigger": True}, {"on_pulses": True}, "pass"),
    ],
)
def test_levels(facts, wanted, level):
    found = wiring(rig(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")
