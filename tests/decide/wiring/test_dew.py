"""Dew point and heater decision, held against formulae by other hands."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide.wiring import DewHeater
from controller.decide.wiring.dew import Air, Heat, air, dew_point_c, heat, vapour_pressure_hpa

RULE = DewHeater(pin=5, sensor_command=("sensor",), margin_c=3.0, hysteresis_c=1.0, min_on_s=60.0, min_off_s=90.0)


def steam_hpa(kelvin: float) -> float:
    """Saturation pressure of water, hPa: equation 30 of IAPWS R7-97(2012), region 4 (coefficients from memory, proved
    by the release's own check values below)."""
    n = (
        0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
        0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
    )  # fmt: skip
    theta = kelvin + n[8] / (kelvin - n[9])
    a = theta**2 + n[0] * theta + n[1]
    b = n[2] * theta**2 + n[3] * theta + n[4]
    c = n[5] * theta**2 + n[6] * theta + n[7]
    return float((2 * c / (-b + math.sqrt(b * b - 4 * a * c))) ** 4 * 1e4)


def supercooled_hpa(kelvin: float) -> float:
    """Vapour pressure over liquid water, hPa: Murphy and Koop, Q. J. R. Meteorol. Soc. 131 (2005), equation 10, for
    123 to 332 K (from memory)."""
    t = kelvin
    tail = 53.878 - 1331.22 / t - 9.44523 * math.log(t) + 0.014025 * t
    return (
        math.exp(54.842763 - 6763.22 / t - 4.210 * math.log(t) + 0.000367 * t + math.tanh(0.0415 * (t - 218.8)) * tail)
        / 100
    )


@pytest.mark.parametrize(("kelvin", "mpa"), [(300.0, 0.353658941e-2), (500.0, 0.263889776e1), (600.0, 0.123443146e2)])
def test_the_steam_formula_is_the_published_one(kelvin, mpa):
    """IAPWS R7-97(2012), table 35 (from memory)."""
    assert steam_hpa(kelvin) == pytest.approx(mpa * 1e4, rel=1e-8)


@pytest.mark.parametrize("celsius", range(1, 51, 7))
def test_vapour_pressure_is_that_of_the_steam_tables(celsius):
    """Half a per cent is less than 0.1 °C of dew point."""
    assert vapour_pressure_hpa(celsius) == pytest.approx(steam_hpa(273.15 + celsius), rel=5e-3)


@pytest.mark.parametrize("celsius", range(-40, 1, 5))
def test_vapour_pressure_over_supercooled_water(celsius):
    """At −40 °C the two fits are 2 % apart, which is 0.2 °C of dew point."""
    assert vapour_pressure_hpa(celsius) == pytest.approx(supercooled_hpa(273.15 + celsius), rel=0.02)


@given(st.floats(0, 50), st.floats(5, 100))
def test_at_the_dew_point_the_air_is_saturated(temperature_c, humidity):
    """The meaning of relative humidity and dew point (WMO-No. 8, volume I, chapter 4), by the steam formula."""
    dew_c = dew_point_c(temperature_c, humidity)
    if dew_c < 0.1:
        return
    assert steam_hpa(273.15 + dew_c) == pytest.approx(humidity / 100 * steam_hpa(273.15 + temperature_c), rel=6e-3)


def test_worked_values():
    """20 °C at 50 % has its dew point at 9.3 °C, 25 °C at 60 % at 16.7 °C (psychrometric tables, from memory)."""
    assert dew_point_c(20, 50) == pytest.approx(9.3, abs=0.05)
    assert dew_point_c(25, 60) == pytest.approx(16.7, abs=0.05)
    assert dew_point_c(-7.5, 100) == pytest.approx(-7.5)


@pytest.mark.parametrize("words", ["4.5 93\n", "4.5,93", "4.5;93.0", " 4.5\n93\n"])
def test_a_reading_is_two_numbers(words):
    assert air(words) == Air(4.5, 93.0)


@pytest.mark.parametrize(
    "words", ["", "4.5", "4.5 93 1013", "4.5 °C 93 %", "nan 93", "85 93", "4.5 0", "4.5 140", "4 inf"]
)
def test_anything_else_is_none(words):
    with pytest.raises(ValueError, match=r"two numbers|is not the air's|no relative humidity"):
        air(words)


def test_a_desert_s_air_is_air():
    assert air("40 0.5") == Air(40.0, 0.5)


def test_fog_reads_a_little_more_than_full():
    assert air("3 101.5") == Air(3.0, 100.0)


def with_spread(spread_c: float) -> Air:
    """Air of 10 °C so far above its dew point, by bisection."""
    low, high = 1.0, 100.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if 10 - dew_point_c(10, middle) > spread_c else (low, middle)
    return Air(10.0, low)


def test_it_heats_near_the_dew_point_and_rests_beyond_the_hysteresis():
    cold = Heat()
    assert not heat(RULE, cold, with_spread(3.5), 0.0).on  # between the two nothing changes
    on = heat(RULE, cold, with_spread(2.9), 0.0)
    assert on.on
    assert heat(RULE, on, with_spread(3.9), 1000.0).on
    assert not heat(RULE, on, with_spread(4.1), 1000.0).on


def test_it_does_not_switch_more_often_than_it_may():
    on = heat(RULE, Heat(), with_spread(1.0), 0.0)
    still = heat(RULE, on, with_spread(9.0), 59.0)
    assert still.on
    off = heat(RULE, still, with_spread(9.0), 60.0)
    assert not off.on
    assert not heat(RULE, off, with_spread(1.0), 149.0).on
    assert heat(RULE, off, with_spread(1.0), 150.0).on


def test_a_silent_sensor_switches_it_off_however_short_it_was_on():
    rule = RULE.model_copy(update={"min_on_s": 3600.0})
    on = heat(rule, Heat(), with_spread(1.0), 0.0)
    waiting = heat(rule, on, None, 299.0)
    assert (waiting.on, waiting.silent) == (True, False)
    off = heat(rule, waiting, None, 300.0)
    assert (off.on, off.silent) == (False, True)
    again = heat(rule, off, with_spread(1.0), 400.0)
    assert (again.on, again.silent) == (True, False)
    dry = heat(rule, off, with_spread(9.0), 400.0)
    assert (dry.on, dry.silent, dry.heard) == (False, False, 400.0)


def test_silence_counts_from_the_last_reading_however_long_the_rig_runs():
    on = heat(RULE, Heat(), with_spread(1.0), 100_000.0)
    lately = heat(RULE, on, with_spread(1.0), 100_600.0)
    assert heat(RULE, lately, None, 100_899.0).on
    assert not heat(RULE, lately, None, 100_900.0).on


@given(st.lists(st.tuples(st.one_of(st.none(), st.floats(0.1, 12.0)), st.floats(1, 200)), max_size=60))
def test_whatever_the_weather(readings):
    """Never on without a reading in the last `silent_s`; between two switches the least times, silence left out."""
    state, now, heard, last = Heat(heard=0.0), 0.0, 0.0, -math.inf
    for spread_c, wait_s in readings:
        now += wait_s
        told = None if spread_c is None else with_spread(spread_c)
        heard = now if told is not None else heard
        after = heat(RULE, state, told, now)
        assert not (after.on and now - heard >= RULE.silent_s)
        if after.on != state.on and not after.silent:
            assert now - last >= (RULE.min_on_s if state.on else RULE.min_off_s)
        last = now if after.on != state.on else last
        state = after
