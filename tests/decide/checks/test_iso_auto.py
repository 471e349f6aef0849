"""Check iso_auto: makers' spellings, typed from memory (common practice, no source)."""

from __future__ import annotations

import pytest

from controller.decide.checks.iso_auto import iso_auto
from controller.words.settings import Setting
from tests.decide.checks import camera


@pytest.mark.parametrize(
    ("value", "level"),
    [
        ("100", "pass"),
        ("12800", "pass"),
        ("ISO 200", "pass"),
        ("", "warn"),
        ("(null)", "warn"),
        ("Unknown value 0001", "warn"),
        ("Auto", "fail"),
        ("Auto ISO", "fail"),
        ("-1", "fail"),
        ("-3", "fail"),
        ("auto", "fail"),
        ("65535", "fail"),
    ],
)
def test_spellings(value, level):
    found = iso_auto(camera(Setting.ISO, value), None)
    assert found is not None
    assert found.level == level
    assert (found.remedy is None) == (level == "pass")


def test_what_mends_it_is_the_bodys_own_text():
    found = iso_auto(camera(Setting.ISO, "Auto", *["Auto", "100", "200"]), None)
    assert found is not None
    assert found.fix == {Setting.ISO: "100"}
    found = iso_auto(camera(Setting.ISO, "Auto", *["Auto", "100", "200"], writable=False), None)
    assert found is not None
    assert found.fix is None


@pytest.mark.parametrize(("value", "level"), [("On", "fail"), ("Off", "pass")])
def test_nikons_own_control(value, level):
    found = iso_auto(camera(Setting.ISO_AUTO, value, "Off", "On"), None)
    assert found.level == level
    assert found.fix == ({Setting.ISO_AUTO: "Off"} if level == "fail" else None)
