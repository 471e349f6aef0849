"""Check focus: makers' spellings, typed from memory (common practice, no source)."""

from __future__ import annotations

import pytest

from controller.decide.checks.focus import focus
from controller.words.settings import Setting
from tests.decide.checks import camera


@pytest.mark.parametrize(
    ("value", "level"),
    [
        ("Manual", "pass"),
        ("MF", "pass"),
        ("MF (fixed)", "pass"),
        ("MF (selection)", "pass"),
        ("", "warn"),
        ("Unknown value 8001", "warn"),
        ("0x5", "warn"),
        ("AF-S", "fail"),
        ("AF-C", "fail"),
        ("AF-A", "fail"),
        ("One Shot", "fail"),
        ("AI Servo", "fail"),
        ("AI Focus", "fail"),
        ("Single-Servo AF", "fail"),
        ("S-AF", "fail"),
        ("C-AF", "fail"),
        ("DMF", "fail"),
        ("S-AF+MF", "fail"),
        ("Automatic", "fail"),
        ("Automatic Macro", "fail"),
    ],
)
def test_spellings(value, level):
    found = focus(camera(Setting.FOCUS, value), None)
    assert found is not None
    assert found.level == level
    assert (found.remedy is None) == (level == "pass")


def test_what_mends_it_is_the_bodys_own_text():
    found = focus(camera(Setting.FOCUS, "AF-S", *["AF-S", "MF (fixed)"]), None)
    assert found is not None
    assert found.fix == {Setting.FOCUS: "MF (fixed)"}
    found = focus(camera(Setting.FOCUS, "AF-S", *["AF-S", "MF (fixed)"], writable=False), None)
    assert found is not None
    assert found.fix is None
