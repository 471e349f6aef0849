"""What clouds let through, and tables of it."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.rehearsal import clear, cloudy, from_table, read_table
from controller.rehearsal.weather import LOWEST
from controller.words.errors import BadInput

NOW = 1_792_511_760.0


def test_a_clear_sky_lets_everything_through():
    assert {clear().transmission(NOW + 60 * k) for k in range(600)} == {1.0}


def test_clouds_wander_and_are_the_same_for_the_same_seed():
    one, again, other = ([cloudy(seed).transmission(NOW + 20 * k) for k in range(2000)] for seed in (3, 3, 4))
    assert one == again
    assert one != other
    assert min(one) >= 0.25 - 1e-9
    assert max(one) <= 1
    assert max(one) - min(one) > 0.3
    assert max(abs(b - a) for a, b in itertools.pairwise(one)) < 0.2  # within 20 s


def test_a_table_is_followed_from_its_start():
    weather = from_table([0, 10, 20], [1.0, 0.5, 0.0], NOW)
    found = [weather.transmission(NOW + 60 * minute) for minute in (-5, 0, 5, 10, 15, 20, 99)]
    assert found == pytest.approx([1, 1, 0.75, 0.5, 0.25 + LOWEST / 2, LOWEST, LOWEST])


def test_reading_a_table():
    text = "\ufeff# Golden\r\nMinute, Transmission\r\n0,1\r\n\r\n0.5,0.25\r\n# a cloud\r\n90,1.2\r\n"
    assert read_table(text) == ([0, 0.5, 90], [1, 0.25, 1.2])


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("", "clouds.csv", "nothing"),
        ("minute,transmission\n", "clouds.csv", "no line below"),
        ("time,ghi\n0,1\n", "line 1", "head"),
        ("minute,transmission\n0,1\n1\n", "line 3", "1 values"),
        ("minute,transmission\n0,1\n# c\n1;0,5\n", "line 4", "parted by semicolons"),
        ("minute;transmission\n0;0,8\n", "line 1", "parted by semicolons"),
        ("minute\ttransmission\n0\t0.8\n", "line 1", "parted by tabs"),
        ("minute,transmission\n0,1\n1;0.5\n", "line 3", "parted by semicolons"),
        ("minute,transmission\n0,0,8\n", "line 2", "as decimal commas make them"),
        ('minute,transmission\n0,"0,8"\n', "line 2", "'0,8' has a decimal comma"),
        ("minute,transmission\n0,80%\n", "line 2", "'80%' is per cent"),
        ("minute,transmission %\n0,80\n", "line 1", "per cent"),
        ("minute,transmission\n0,nan\n", "line 2", "no number"),
        ("minute,transmission\n0,1\n0,1\n", "line 3", "does not come after"),
        ("minute,transmission\n0,85\n", "line 2", "no share"),
        ("minute,transmission\n0,-0.1\n", "line 2", "no share"),
    ],
)
def test_a_bad_line_is_told_with_its_number(text: str, where: str, what: str):
    with pytest.raises(BadInput) as error:
        read_table(text, "clouds.csv")
    assert error.value.code == "bad-sky"
    assert where in error.value.where
    assert what in error.value.what
    assert error.value.remedy


@pytest.mark.parametrize(
    ("line", "remedy"),
    [
        ("0,0,8", "0,0.8"),
        ("0,5,0,8", "0.5,0.8"),
        ("0,80", "per cent, divide by 100: 0.8"),
        ("0,80 %", "Write the share: 0.8"),
        ('0,"0,8"', "Write 0.8, without quotes"),
        ("0;0,8", "commas between"),
    ],
)
def test_a_line_of_another_habit_is_told_how_it_is_written_here(line: str, remedy: str):
    with pytest.raises(BadInput) as error:
        read_table(f"minute,transmission\n{line}\n")
    assert remedy in error.value.remedy


@given(st.text(alphabet="minute,transo019.-\n\"' ;é\x00", max_size=60))
def test_no_text_breaks_the_reader(text: str):
    try:
        minutes, shares = read_table("minute,transmission\n" + text)
    except BadInput:
        return
    assert len(minutes) == len(shares) > 0
