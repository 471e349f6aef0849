"""Check drive: makers' spellings, typed from memory (common practice, no source)."""

from __future__ import annotations

import pytest

from controller.decide.checks.drive import drive
from controller.words.settings import Setting
from tests.decide.checks import camera


@pytest.mark.parametrize(
    ("value", "level"),
    [
        ("Single", "pass"),
        ("Single Shot", "pass"),
        ("Single frame", "pass"),
        ("Continuous", "warn"),
        ("Burst", "warn"),
        ("Unknown value 0007", "warn"),
        ("", "warn"),
        ("Self-timer", "fail"),
        ("Timer 2 sec", "fail"),
        ("Selftimer 10s", "fail"),
        ("Mirror Up", "fail"),
        ("Delayed Remote", "fail"),
        ("Bracketing C 0.3 Steps 3 Pictures", "fail"),
        ("Continuous timer", "fail"),
    ],
)
def test_spellings(value, level):
    found = drive(camera(Setting.DRIVE, value), None)
    assert found is not None
    assert found.level == level
    assert (found.remedy is None) == (level == "pass")


def test_what_mends_it_is_the_bodys_own_text():
    found = drive(camera(Setting.DRIVE, "Burst", *["Single Shot", "Burst"]), None)
    assert found is not None
    assert found.fix == {Setting.DRIVE: "Single Shot"}
    found = drive(camera(Setting.DRIVE, "Burst", *["Single Shot", "Burst"], writable=False), None)
    assert found is not None
    assert found.fix is None


def test_a_body_without_the_control_is_left_out():
    assert drive(camera(), None) is None


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("Burst", "is Burst, not single"),
        ("Unknown value 0007", "does not tell"),
        ("", "does not tell"),
        ("Mirror Up", "is Mirror Up: a"),
    ],
)
def test_it_tells_the_mode_where_the_body_does(value, words):
    found = drive(camera(Setting.DRIVE, value), None)
    assert found is not None
    assert words in found.what
