"""Check power_off: makers' spellings, typed from memory (common practice, no source)."""

from __future__ import annotations

import pytest

from controller.decide.checks.power_off import power_off
from controller.words.settings import Setting
from tests.decide.checks import camera, plan


@pytest.mark.parametrize(
    ("value", "level"),
    [
        ("0", "pass"),
        ("Off", "pass"),
        ("No limit", "pass"),
        ("Disable", "pass"),
        ("", "warn"),
        ("60", "warn"),
        ("30 minutes", "warn"),
        ("4 seconds", "warn"),
        ("Unknown value 000f", "warn"),
    ],
)
def test_spellings(value, level):
    found = power_off(camera(Setting.POWER_OFF, value), None)
    assert found is not None
    assert found.level == level
    assert (found.remedy is None) == (level == "pass")


def test_what_mends_it_is_the_bodys_own_text():
    found = power_off(camera(Setting.POWER_OFF, "60", *["0", "30", "60"]), None)
    assert found is not None
    assert found.fix == {Setting.POWER_OFF: "0"}
    found = power_off(camera(Setting.POWER_OFF, "60"), None)  # seconds, and no choices: Canon EOS's autopoweroff
    assert found is not None
    assert found.fix == {Setting.POWER_OFF: "0"}
    found = power_off(camera(Setting.POWER_OFF, "4 seconds"), None)
    assert found is not None
    assert found.fix is None
    found = power_off(camera(Setting.POWER_OFF, "60", *["0", "30", "60"], writable=False), None)
    assert found is not None
    assert found.fix is None


@pytest.mark.parametrize(
    ("value", "level"), [("30", "warn"), ("60", "pass"), ("1 minute", "pass"), ("20 s", "warn"), ("41 seconds", "pass")]
)
def test_a_timer_against_the_longest_interval(value, level):
    assert power_off(camera(Setting.POWER_OFF, value), plan(longest_interval_s=40.0)).level == level


@pytest.mark.parametrize(("longest_s", "level"), [(59.0, "pass"), (61.0, "warn"), (119.0, "warn")])
def test_a_minute_has_sixty_seconds(longest_s, level):
    assert power_off(camera(Setting.POWER_OFF, "1 minute"), plan(longest_interval_s=longest_s)).level == level
