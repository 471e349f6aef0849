"""A day of sun and moon, with the days on which they do not rise.

Times unless marked: skyfield 1.55 with JPL's DE421.
"""

from __future__ import annotations

from datetime import date

import pytest

from controller.decide.almanac import Kind, Light, day_of, light
from tests.decide import utc

LONGYEARBYEN = (78.22, 15.65, "Arctic/Longyearbyen")
QUITO = (-0.18, -78.47, "America/Guayaquil")


def test_an_ordinary_day():
    day = day_of(*QUITO, date(2026, 3, 20))
    found = {e.name: e for e in day.events}
    assert found["sunrise"].utc == pytest.approx(utc("2026-03-20T11:18:00"), abs=2)
    assert found["astronomical_dusk"].utc == pytest.approx(utc("2026-03-21T00:33:09"), abs=2)
    assert day.kind is Kind.ORDINARY
    assert (day.brightest, day.darkest) == (Light.DAYLIGHT, Light.NIGHT)
    assert [s.length_s for s in day.daylight] == pytest.approx([12 * 3600 + 6 * 60 + 30], abs=3)
    (dark,) = day.dark
    assert dark.from_utc == found["astronomical_dusk"].utc
    assert dark.to_utc == pytest.approx(found["astronomical_dawn"].utc + 86400, abs=60)
    assert [e.utc for e in day.events] == sorted(e.utc for e in day.events)
    assert found["noon"].scene_ev > 15
    assert found["civil_dusk"].scene_ev == pytest.approx(0.45, abs=0.15)  # Explanatory Supplement, 3.4 lx


def test_polar_day_polar_night_and_white_nights_are_answers():
    summer, winter = (day_of(*LONGYEARBYEN, date(2026, month, 21)) for month in (6, 12))
    assert summer.kind is Kind.POLAR_DAY
    assert summer.darkest is Light.DAYLIGHT
    assert [s.length_s for s in summer.daylight] == [86400]
    assert summer.dark == ()
    assert winter.kind is Kind.POLAR_NIGHT
    assert winter.brightest is Light.NAUTICAL  # the sun comes to −11.7°
    assert winter.darkest is Light.NIGHT
    assert winter.daylight == ()
    white = day_of(57.7, 11.95, "Europe/Stockholm", date(2026, 6, 21))
    assert white.kind is Kind.ORDINARY
    assert white.darkest is Light.NAUTICAL
    assert white.darkest is light(57.7 + 23.44 - 90)  # the sun at midnight, −(90° − φ − ε)
    assert white.dark == ()


def test_a_night_that_lasts_all_day_is_dark_throughout():
    day = day_of(89.5, 0.0, "UTC", date(2026, 12, 21))
    assert day.brightest is Light.NIGHT
    assert [s.length_s for s in day.dark] == [86400]


@pytest.mark.parametrize(
    ("on", "moonlit"),
    [(date(2026, 2, 1), True), (date(2026, 2, 17), False)],  # full moon, new moon (skyfield, DE421)
)
def test_the_moon_in_the_dark(on, moonlit):
    day = day_of(*QUITO, on)
    lit_s = sum(s.length_s for s in day.dark_with_moon)
    dark_s = sum(s.length_s for s in day.dark)
    assert lit_s > 0.9 * dark_s if moonlit else lit_s < 0.1 * dark_s
    assert day.illuminated > 0.98 if moonlit else day.illuminated < 0.02
    for span in day.dark_with_moon:
        assert any(d.from_utc <= span.from_utc < span.to_utc <= d.to_utc for d in day.dark)


def test_the_next_phase():
    later = day_of(*QUITO, date(2026, 1, 12))
    assert later.phase == "waning crescent"
    assert later.next_phase.name == "new moon"
    assert later.next_phase.utc == pytest.approx(utc("2026-01-18T19:51:59"), abs=120)
