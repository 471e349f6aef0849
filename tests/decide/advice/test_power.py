"""Batteries in the cold against published figures."""

from __future__ import annotations

import pytest

from controller.decide.advice.power import energy_wh, share_at, supply


def test_half_of_it_at_minus_18():
    """100 % at 27 °C is 50 % at −18 °C (Battery University, BU-502)."""
    assert share_at(27.0) == 1.0
    assert share_at(-18.0) == pytest.approx(0.5)


@pytest.mark.parametrize(("celsius", "factor"), [(21.1, 1.04), (15.6, 1.11), (10.0, 1.19), (4.4, 1.30), (-3.9, 1.52)])
def test_near_the_lead_acid_table_and_never_above_it_by_much(celsius, factor):
    """Cell size correction factors for temperature of IEEE Std 485, from memory; from 77 °F (25 °C) there."""
    published = share_at(25.0) / factor
    assert published - 0.05 <= share_at(celsius) <= published + 0.02


def test_no_more_than_all_and_no_less_than_nothing():
    assert share_at(45.0) == 1.0
    assert share_at(-80.0) == 0.0
    assert share_at(-70.0) == 0.0


def test_a_worked_battery():
    """150 Wh at 6.5 W and −18 °C, by hand: 75 Wh, 11.54 h."""
    found = supply(150.0, 6.5, -18.0)
    assert found.usable_wh == pytest.approx(75.0)
    assert found.lasts_s / 3600 == pytest.approx(11.538, abs=0.001)
    assert supply(150.0, 6.5, None).lasts_s / 3600 == pytest.approx(23.077, abs=0.001)
    assert energy_wh(6.5, 9 * 3600) == pytest.approx(58.5)
