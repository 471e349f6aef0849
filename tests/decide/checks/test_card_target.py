"""Check card_target: makers' spellings, typed from memory (common practice, no source)."""

from __future__ import annotations

import pytest

from controller.decide.checks.card_target import card_target
from controller.words.settings import Setting
from tests.decide.checks import camera


@pytest.mark.parametrize(
    ("value", "level"),
    [
        ("Memory card", "pass"),
        ("card", "pass"),
        ("", "warn"),
        ("Unknown value 0003", "warn"),
        ("Internal RAM", "fail"),
        ("sdram", "fail"),
        ("card+sdram", "fail"),
    ],
)
def test_spellings(value, level):
    found = card_target(camera(Setting.TARGET, value), None)
    assert found is not None
    assert found.level == level
    assert (found.remedy is None) == (level == "pass")


def test_what_mends_it_is_the_bodys_own_text():
    found = card_target(camera(Setting.TARGET, "sdram", *["sdram", "card+sdram", "card"]), None)
    assert found is not None
    assert found.fix == {Setting.TARGET: "card"}
    found = card_target(camera(Setting.TARGET, "sdram", *["sdram", "card+sdram", "card"], writable=False), None)
    assert found is not None
    assert found.fix is None


def test_a_body_without_the_choice_is_left_out():
    assert card_target(camera(), None) is None
