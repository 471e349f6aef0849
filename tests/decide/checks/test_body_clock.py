"""Check body_clock. Where it draws lines that is common practice, no source."""

from __future__ import annotations

import pytest

from controller.decide.checks.body_clock import body_clock
from controller.words.settings import NOW, Setting
from tests.decide.checks import camera, plan


@pytest.mark.parametrize(
    ("facts", "wanted", "level"),
    [
        ({"clock_off_s": None}, None, "warn"),
        ({"clock_off_s": 59.0}, None, "pass"),
        ({"clock_off_s": -61.0}, None, "warn"),
        ({"clock_off_s": 3600.0}, None, "warn"),
    ],
)
def test_levels(facts, wanted, level):
    found = body_clock(camera(**facts), plan(**wanted) if wanted is not None else None)
    assert (None if found is None else found.level) == level
    assert found is None or (found.remedy is None) == (level == "pass")


def test_it_is_set_by_a_clock_that_is_kept_and_only_where_the_body_lets_it():
    off = {"clock_off_s": 3600.0}
    settable, shown = (camera(Setting.CLOCK, "x", NOW, writable=may, **off) for may in (True, False))
    assert body_clock(settable, None).fix == {Setting.CLOCK: NOW}
    assert body_clock(shown, None).fix is None
    assert "does not let it be set from here" in body_clock(shown, None).remedy
    unkept = body_clock(camera(Setting.CLOCK, "x", NOW, rig_synchronised=False, **off), None)
    assert unkept.fix is None
    assert "which of the two" in unkept.remedy
    assert body_clock(camera(Setting.CLOCK, "x", NOW, clock_off_s=1.0), None).fix is None


def test_it_tells_the_way():
    assert "60 min ahead of" in body_clock(camera(clock_off_s=3600.0), None).what.replace("1 h 00 min", "60 min")
    assert "behind" in body_clock(camera(clock_off_s=-3600.0), None).what
