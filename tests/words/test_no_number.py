"""Texts in every maker's form: numbers by an independent reading, and what stands in their place.

Forms as libgphoto2 2.5.34 prints them (camlibs/ptp2/config.c, and its traces of bodies of six makers); the steps are
those that dials are marked with, in thirds of a stop (common practice, no source).
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.words import stops
from controller.words.no_number import NoNumber, battery_percent, count, meaning

FAST = [
    4,
    5,
    6,
    8,
    10,
    13,
    15,
    20,
    25,
    30,
    40,
    50,
    60,
    80,
    100,
    125,
    160,
    200,
    250,
    320,
    400,
    500,
    640,
    800,
    1000,
    2000,
]
SLOW = [
    "0.3",
    "0.4",
    "0.5",
    "0.6",
    "0.8",
    "1",
    "1.3",
    "1.6",
    "2",
    "2.5",
    "3.2",
    "4",
    "5",
    "6",
    "8",
    "10",
    "13",
    "15",
    "30",
]
NUMBERS = ["1", "1.4", "1.8", "2", "2.8", "3.5", "4", "5", "5.6", "6.3", "7.1", "8", "9", "11", "13", "16", "22", "32"]


def shutter_forms(seconds: Fraction) -> list[str]:
    """One time as each maker's bodies have it, where they can have it."""
    forms = [f"{float(seconds):.4f}s", f"{float(seconds):.4f}s".replace(".", ",")]
    if seconds < 1:
        forms += [f"{seconds.numerator}/{seconds.denominator}", f"1/{float(1 / seconds):.1f}"]
    if seconds.denominator in (1, 2, 5, 10):
        text = f"{float(seconds):g}"
        forms += [text, f"{text}s", f"{int(seconds * 10)}/10"]
    if seconds.denominator == 1:
        forms.append(f'{seconds}" (1/3)')
    return forms


TIMES = [Fraction(1, n) for n in FAST] + [Fraction(text) for text in SLOW]


@given(
    st.sampled_from(TIMES).flatmap(lambda seconds: st.tuples(st.just(seconds), st.sampled_from(shutter_forms(seconds))))
)
def test_shutter_times_in_every_form(given_: tuple[Fraction, str]) -> None:
    """Within what the form itself rounds: PTP counts 0.1 ms, one maker prints one place of the denominator."""
    seconds, text = given_
    read = stops.parse_shutter(text)
    assert read is not None, text
    if text.startswith("1/"):
        assert 1 / read == pytest.approx(float(1 / seconds), abs=0.051, rel=1e-9), text
    else:
        assert read == pytest.approx(float(seconds), abs=5.1e-5, rel=1e-9), text


@pytest.mark.parametrize("text", NUMBERS)
def test_f_numbers_in_every_form(text: str) -> None:
    for form in (text, f"f/{text}", f"f/{text}".replace(".", ","), f"F{text}"):
        assert stops.parse_aperture(form) == float(Fraction(text)), form


@pytest.mark.parametrize("speed", [50, 100, 125, 640, 3200, 12800, 102400])
def test_speeds_in_every_form(speed: int) -> None:
    for form in (f"{speed}", f"ISO {speed}", f"iso{speed}"):
        assert stops.parse_iso(form) == speed


@pytest.mark.parametrize(
    ("texts", "what"),
    [
        (("Bulb", "bulb", "65535/65535", "429496.7295s", "429496,7295s"), NoNumber.BULB),
        (("Time", "65535/65533"), NoNumber.TIME),
        (("Auto", "auto", "Auto ISO", "implicit auto", "-1", "-2", "-3", "65535"), NoNumber.AUTO),
        (("", "(null)", "Unknown value 00ff", "x 200", "Composite", "65535/65534", "Lo 1", "f/0"), NoNumber.UNKNOWN),
    ],
)
def test_what_stands_in_place_of_a_number(texts: tuple[str, ...], what: NoNumber) -> None:
    for text in texts:
        assert meaning(text) is what, text
        assert stops.parse_shutter(text) is None
        assert stops.parse_aperture(text) is None or text == "65535"
        assert stops.parse_iso(text) is None


@pytest.mark.parametrize(
    ("text", "percent"),
    [
        ("100%", 100),
        ("75%", 75),
        ("7", 7),
        (" 50 % ", 50),
        ("Low", 5),
        ("low", 5),
        ("Unknown", None),
        ("", None),
        ("(null)", None),
    ],
)
def test_batteries(text: str, percent: int | None) -> None:
    assert battery_percent(text) == percent


def test_counts() -> None:
    assert [count(text) for text in ("1432", "0", "many", "", "-1")] == [1432, 0, None, None, None]
