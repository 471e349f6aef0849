"""Times that may not be the ones that were meant, against the IANA database's own cities and summer times."""

from __future__ import annotations

import re
from datetime import date, datetime
from importlib.resources import files
from zoneinfo import ZoneInfo

import pytest

from controller.decide.advice.advise import advise
from controller.decide.advice.clocks import of_site
from controller.decide.plan import Plan, plan_from
from controller.words.advice import Costs, Warned
from tests.decide import changed, example, utc

NOON = utc("2026-12-03T10:00:00")
QUAY = example("quay_at_dusk")
CITY = re.compile(r"([+-])(\d\d)(\d\d)(\d\d)?([+-])(\d{3})(\d\d)(\d\d)?")


def cities() -> list[tuple[str, float, float]]:
    """Every zone of zone.tab with its city: ISO 6709, ±DDMM±DDDMM, or with seconds."""
    found = []
    for line in files("tzdata.zoneinfo").joinpath("zone.tab").read_text("utf-8").splitlines():
        if not line.startswith("#"):
            place, name = line.split("\t")[1:3]
            parts = CITY.fullmatch(place)
            assert parts is not None
            north, east = (
                (-1 if sign == "-" else 1) * (int(whole) + int(minutes) / 60 + int(seconds or 0) / 3600)
                for sign, whole, minutes, seconds in (parts.groups()[:4], parts.groups()[4:])
            )
            found.append((name, north, east))
    return found


def warned(name: str | None, latitude: float, longitude: float, plan: Plan = QUAY) -> list[Warned]:
    site = {"latitude": latitude, "longitude": longitude, "timezone": name}
    return list(of_site(changed(plan, site=site), NOON))


def clock_moves(name: str) -> bool:
    january, july = (datetime(2026, month, 1, tzinfo=ZoneInfo(name)).utcoffset() for month in (1, 7))
    return january != july


def test_no_city_of_the_database_is_doubted_in_its_own_zone():
    found = cities()
    assert len(found) > 400
    assert [name for name, latitude, longitude in found if warned(name, latitude, longitude)] == []


def test_a_longitude_of_the_wrong_sign_is_seen_wherever_that_is_hours_away():
    """Between 30° and 150° the other side is four hours and more away, by any zone."""
    far = [place for place in cities() if 30 < abs(place[2]) < 150 and abs(place[1]) < 65]
    assert len(far) > 250
    for name, latitude, longitude in far:
        (told,) = warned(name, latitude, -longitude)
        assert told.costs is Costs.FRAMES
        assert "the sun is highest at" in told.what
        assert f"{abs(longitude):.4g}° {'W' if longitude > 0 else 'E'}" in told.what
        assert f"{abs(latitude):.4g}° {'N' if latitude >= 0 else 'S'}" in told.what


def test_a_latitude_of_the_wrong_sign_is_seen_where_clocks_move():
    """Summer time comes in the summer of its place; in the tropics none is needed to tell."""
    moving = [place for place in cities() if 23.5 < abs(place[1]) < 65 and clock_moves(place[0])]
    assert len(moving) > 100
    for name, latitude, longitude in moving:
        assert warned(name, -latitude, longitude), name


@pytest.mark.parametrize(
    ("longitude", "doubted"), [(-13.0, True), (-10.0, False), (36.0, False), (42.0, True), (45.0, True)]
)
def test_a_zone_is_doubted_by_its_winter_clock(longitude: float, doubted: bool):
    """Stockholm's, an hour ahead of UTC: 15° E. What is within 1 h 45 min of it, 26¼°, is not doubted, on a sea or land
    where no city of that zone is near."""
    assert bool(warned("Europe/Stockholm", 45.0, longitude)) is doubted


def test_what_is_said_of_a_latitude_of_the_wrong_sign():
    """Sweden's clocks go forward for the summer of the north (Directive 2000/84/EC), Chile's for that of the south."""
    (told,) = warned("Europe/Stockholm", -57.7, 11.95)
    assert "put forward for July, and at 57.7° S 11.95° E summer is in January" in told.what
    (told,) = warned("America/Santiago", 33.45, -70.67)
    assert "put forward for January, and at 33.45° N 70.67° W summer is in July" in told.what


def test_the_noon_that_is_told_is_the_sun_s():
    """At 150° E the mean sun is highest at 02:00 UTC, which is 2 o'clock in Lisbon's winter. On 3 December the equation
    of time is +10 min and a few seconds (Meeus, chapter 28, from memory); seconds are left out.
    """
    (told,) = warned("Europe/Lisbon", 38.7, 150.0)
    assert "the sun is highest at 01:49 by Europe/Lisbon" in told.what


def test_a_plan_without_a_zone():
    (told,) = warned(None, 57.7, 11.95)
    assert (told.what, told.costs) == ("no timezone: times are in UTC", Costs.COMFORT)
    by_clock = changed(QUAY, when={"start": "18:20", "stop": "21:00"})
    (told,) = warned(None, 57.7, 11.95, by_clock)
    assert (told.what, told.costs) == ("no timezone: 18:20 means UTC", Costs.FRAMES)
    until = changed(QUAY, when={"start": "sunset", "stop": "21:00"})
    (told,) = warned(None, 57.7, 11.95, until)
    assert told.what == "no timezone: 21:00 means UTC"
    assert warned(None, 51.5, 0.1, by_clock) == []  # the clock of Greenwich
    assert warned(None, 78.2, 15.6, by_clock) == []  # Svalbard: beyond 65° zones say little of the sun
    assert warned("America/New_York", 78.2, 15.6) == []


def told(found: list[Warned], words: str) -> Warned | None:
    return next((w for w in found if words in w.what), None)


@pytest.mark.parametrize(
    ("start", "stop", "hours"), [("18:00", "06:30", "12.5 h"), ("20:00", "19:00", "23 h"), ("18:00", "06:00", None)]
)
def test_times_that_run_through_the_night_and_on(start, stop, hours):
    plan = changed(QUAY, when={"start": start, "stop": stop})
    found = told(advise(plan, NOON, now_utc=NOON).warnings, "runs through the night")
    assert (found is None) is (hours is None)
    if found is not None:
        assert found.what.endswith(f"from {start} to {stop} runs through the night until the next day, {hours}")
        assert found.costs is Costs.NIGHT


def test_a_stop_with_its_own_day_is_meant():
    plan = changed(QUAY, when={"start": "2026-12-03T18:00", "stop": "2026-12-04T10:00"})
    assert told(advise(plan, NOON, now_utc=NOON).warnings, "runs through the night") is None


@pytest.mark.parametrize(
    ("start", "stop", "says"),
    [
        ("2026-10-24T22:00", "2026-10-25T06:00", ("back", "Sun 25 Oct at 03:00", "longer")),
        ("2027-03-27T22:00", "2027-03-28T06:00", ("forward", "Sun 28 Mar at 02:00", "less")),
    ],
)
def test_a_change_of_the_clock_is_said(start, stop, says):
    """At 01:00 UTC on the last Sundays of October and March (Directive 2000/84/EC): 3 and 2 o'clock in Sweden."""
    plan = changed(QUAY, when={"start": start, "stop": stop})
    found = told(advise(plan, utc(start + ":00") - 9e4, now_utc=0.0).warnings, "the clocks are put")
    assert found is not None
    way, at, lasts = says
    assert (
        f"the clocks are put {way} by 1 h within the window, on {at}, so that it lasts 1 h {lasts} than" in found.what
    )


def test_a_clock_that_moves_by_half_an_hour():
    """Lord Howe Island: summer time is 30 minutes (IANA database), and ends on the first Sunday of April at 02:00."""
    site = {"latitude": -31.55, "longitude": 159.08, "timezone": "Australia/Lord_Howe"}
    plan = changed(QUAY, site=site, when={"start": "2027-04-03T22:00", "stop": "2027-04-04T05:00"})
    found = told(advise(plan, utc("2027-04-02T10:00:00"), now_utc=0.0).warnings, "the clocks are put")
    assert found is not None
    assert "put back by 0.5 h within the window, on Sun 04 Apr at 02:00, so that it lasts 0.5 h longer" in found.what


def test_a_window_that_is_over_and_one_that_is_open():
    past = advise(QUAY, date(2026, 10, 3), now_utc=NOON).warnings
    assert told(past, "the window of Sat 03 Oct 2026 lies in the past")
    assert told(advise(QUAY, NOON, now_utc=NOON).warnings, "lies in the past") is None
    plan = changed(QUAY, when={"start": "18:00", "stop": "06:00"})
    half_utc = utc("2026-12-03T23:30:00")  # half past midnight there
    found = told(advise(plan, half_utc, now_utc=half_utc).warnings, "the window is open since")
    assert found is not None
    assert found.what.endswith("open since Thu 03 Dec 18:00; what is left of it from Fri 00:30 is counted")


def test_a_time_that_the_clock_leaves_out():
    """Central Europe goes from 02:00 to 03:00 on 28 March 2027."""
    plan = plan_from(changed(QUAY, when={"start": "02:30", "stop": "05:00"}).document())
    found = told(advise(plan, date(2027, 3, 28), now_utc=NOON).warnings, "does not exist")
    assert found is not None
    assert found.what == "start = 02:30 does not exist on 2027-03-28, as the clock is put forward: 03:30 is taken"
    assert found.utc == utc("2027-03-28T01:30:00")
