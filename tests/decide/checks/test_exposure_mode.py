"""Check exposure_mode: makers' spellings, typed from memory (common practice, no source)."""

from __future__ import annotations

import pytest

from controller.decide.checks.exposure_mode import exposure_mode
from controller.words.settings import Setting
from tests.decide.checks import camera


@pytest.mark.parametrize(
    ("value", "level"),
    [
        ("M", "pass"),
        ("Manual", "pass"),
        ("manual", "pass"),
        ("", "warn"),
        ("Unknown value 8052", "warn"),
        ("C1", "warn"),
        ("(null)", "warn"),
        ("0x3", "warn"),
        ("A", "fail"),
        ("P", "fail"),
        ("S", "fail"),
        ("Auto", "fail"),
        ("AV", "fail"),
        ("TV", "fail"),
        ("Bulb", "fail"),
        ("Fv", "fail"),
        ("Movie", "fail"),
        ("Night Landscape", "fail"),
        ("Intelligent Auto", "fail"),
    ],
)
def test_spellings(value, level):
    found = exposure_mode(camera(Setting.EXPOSURE_MODE, value), None)
    assert found is not None
    assert found.level == level
    assert (found.remedy is None) == (level == "pass")


def test_what_mends_it_is_the_bodys_own_text():
    found = exposure_mode(camera(Setting.EXPOSURE_MODE, "P", *["P", "A", "Manual"]), None)
    assert found is not None
    assert found.fix == {Setting.EXPOSURE_MODE: "Manual"}
    found = exposure_mode(camera(Setting.EXPOSURE_MODE, "P", *["P", "A", "Manual"], writable=False), None)
    assert found is not None
    assert found.fix is None
