"""How long a battery lasts, worked out by hand."""

from __future__ import annotations

import pytest

from controller.decide.battery_fall import Fall, heard, hours_left

HOUR = 3600.0


def told(*readings: tuple[float, int]) -> Fall:
    """Readings at so many seconds."""
    fall = Fall()
    for at, percent in readings:
        fall = heard(fall, at, percent)
    return fall


def by_the_minute(percent_at_0: float, per_hour: float, hours: float, start_s: float = 0.0) -> list[tuple[float, int]]:
    """Whole percent, read every minute."""
    minutes = range(round(60 * hours) + 1)
    return [(start_s + 60.0 * m, int(percent_at_0 - per_hour * m / 60)) for m in minutes]


def test_whole_percents_by_hand() -> None:
    """One per cent each ten minutes: at 96 % there are 96·10 min left, 16 h; five minutes later 15.92 h."""
    fall = told((0, 100), (600, 99), (1200, 98), (1800, 97), (2400, 96))
    assert hours_left(fall, 2400) == pytest.approx(16.0)
    assert hours_left(fall, 2700) == pytest.approx(16.0 - 1 / 12)


def test_quarters_by_hand() -> None:
    """From 75 % to 50 % in two hours: at 50 % four hours are left, an hour later three.

    What the first quarter took tells nothing: nobody knows where in it the battery was.
    """
    fall = told((0, 100), (0.2 * HOUR, 75), (2.2 * HOUR, 50))
    assert hours_left(fall, 2.2 * HOUR) == pytest.approx(4.0)
    assert hours_left(fall, 3.2 * HOUR) == pytest.approx(3.0)


def test_not_told_before_it_is_known() -> None:
    assert hours_left(Fall(), 0) is None
    assert hours_left(told((0, 100)), HOUR) is None
    assert hours_left(told((0, 100), (2 * HOUR, 75)), 3 * HOUR) is None  # one low: from where it fell is not known
    assert hours_left(told((0, 50), (600, 49), (1200, 48), (1800, 47)), 1800) is None  # 2 points in 20 min
    assert hours_left(told((0, 50), (60, 49), (120, 48), (240, 46), (300, 45)), 300) is None  # 4 points in 4 min
    assert hours_left(told((0, 50), (60, 49), (60 + 2000, 48)), 2060) == pytest.approx(48 * 2000 / HOUR)  # 33 min


def test_mains_and_a_body_that_does_not_fall() -> None:
    assert hours_left(told(*[(60.0 * minute, 100) for minute in range(600)]), 10 * HOUR) is None


def test_put_on_mains_the_hours_grow_and_then_there_are_none() -> None:
    """One per cent each ten minutes down to 90; 25 minutes later the next is overdue, after two hours none comes."""
    fall = told(*[(600.0 * n, 100 - n) for n in range(11)])
    falling = hours_left(fall, 6000)
    assert falling == pytest.approx(15.0)
    slower = hours_left(fall, 6000 + 1500)  # the next is 15 min overdue: 10 points in 5400 + 1500 s, 89 are left
    assert slower == pytest.approx(89 * 6900 / 10 / HOUR)
    assert hours_left(fall, 6000 + 2 * HOUR) is None


def test_a_colder_night_is_soon_in_it() -> None:
    """Ten hours at 2 % an hour, then 6 % an hour: after ten points at 6 % it is 6 % that counts."""
    evening = by_the_minute(99.5, 2, 10)
    fall = told(*evening, *by_the_minute(evening[-1][1] - 0.01, 6, 2, start_s=10 * HOUR + 60))
    now = 12 * HOUR + 60
    left = hours_left(fall, now)
    assert left == pytest.approx(67 / 6, rel=0.06)


@pytest.mark.parametrize("per_hour", [1.0, 3.0, 8.0, 20.0, 60.0])
@pytest.mark.parametrize("start", [100.0, 87.3, 60.9])
def test_a_steady_fall_is_met(start: float, per_hour: float) -> None:
    """True hours are what is left divided by the fall: within a point, as it is rounded, and a tenth, as it is read."""
    readings = by_the_minute(start, per_hour, 0.9 * start / per_hour)
    fall, known = Fall(), 0
    for at, percent in readings:
        fall = heard(fall, at, percent)
        left = hours_left(fall, at)
        if left is not None:
            known += 1
            true = (start - per_hour * at / HOUR) / per_hour
            assert abs(left - true) < 1.1 / per_hour + 0.11 * true
    assert known > len(readings) / 3


def test_jitter_is_no_charge() -> None:
    """The same as without the readings that go up by a point or two as the battery rests."""
    plain = told((0, 100), (600, 99), (1200, 98), (1800, 97), (2400, 96))
    restless = told((0, 100), (600, 99), (700, 100), (1200, 98), (1300, 99), (1800, 97), (2000, 99), (2400, 96))
    assert restless == plain


@pytest.mark.parametrize("percent", [100, 20])
def test_another_battery_begins_anew(percent: int) -> None:
    fall = told((0, 100), (600, 99), (1200, 98), (1800, 97), (2400, 75), (3000, 60), (3100, percent))
    assert fall == Fall(((3100, percent),))
