"""The window that starts on a day that is asked for, held against the windows that the plan has on all days."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example as case
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.decide.plan import Plan
from controller.decide.schedule import NoWindow, Window, days, windows_of
from controller.words.errors import BadInput
from tests.decide import changed, example

OSLO, STOCKHOLM, REYKJAVIK = ZoneInfo("Europe/Oslo"), ZoneInfo("Europe/Stockholm"), ZoneInfo("Atlantic/Reykjavik")
DAY = date(2026, 10, 3)


def plan(place: tuple[float, float] = (57.7, 11.95), zone: str = "Europe/Stockholm", **when: object) -> Plan:
    site = {"latitude": place[0], "longitude": place[1], "timezone": zone}
    return changed(example("quay_at_dusk"), site=site, when={"start": None, "stop": None, **when})


def the_one(asked: Plan, day: date) -> Window:
    ((of_day, window),) = windows_of(asked, day)
    assert of_day == day
    assert isinstance(window, Window)
    return window


def starts(asked: Plan, first: date, count: int, zone: ZoneInfo) -> dict[float, date]:
    """Starts of the plan were it repeated on so many days, with the local day of each."""
    document = asked.when.model_dump(mode="json", exclude_none=True)
    repeated = changed(asked, when={**document, "every": "day", "from": str(first)})
    noon = datetime(first.year, first.month, first.day, 12, tzinfo=zone)
    try:
        found = list(islice(days(repeated, noon.timestamp()), count))
    except BadInput:
        return {}
    opened = [one.start_utc for _, one in found if isinstance(one, Window)]
    return {at: datetime.fromtimestamp(at, zone).date() for at in opened}


@settings(max_examples=80, deadline=None)
@case("noon+13h", (57.7, 11.95), "Europe/Stockholm", DAY)
@case("sunrise-9h", (57.7, 11.95), "Europe/Stockholm", DAY)
@case("sunset", (64.15, -21.94), "Atlantic/Reykjavik", date(2026, 6, 21))
@given(
    st.builds("{}{:+}min".format, st.sampled_from(["sunrise", "noon", "sunset"]), st.integers(-720, 720)),
    st.tuples(st.floats(-70, 70), st.floats(-180, 180)),
    st.sampled_from(["UTC", "Pacific/Auckland", "America/Denver", "Europe/Oslo", "Asia/Kolkata"]),
    st.dates(date(2026, 1, 10), date(2027, 12, 20)),
)
def test_it_is_the_one_that_starts_on_that_local_day(start, place, zone, day):
    asked = plan(place, zone, start=start, duration="5min")
    around = starts(asked, day - timedelta(days=4), 9, ZoneInfo(zone))
    there = [at for at, its_day in around.items() if its_day == day]
    if there:
        assert the_one(asked, day).start_utc in there
    else:
        with pytest.raises(BadInput):
            list(windows_of(asked, day))


def test_a_day_that_a_start_leaps_over_has_none():
    """In Reykjavik sunsets come later until they are after midnight: one day of June has none (almanacs, from memory:
    the longest day's sunset is at 00:03)."""
    asked = plan((64.15, -21.94), "Atlantic/Reykjavik", start="sunset", duration="1h")
    june = date(2026, 6, 1)
    answers = {its_day: at for at, its_day in starts(asked, june, 20, REYKJAVIK).items()}
    (without,) = {june + timedelta(days=n) for n in range(1, 20)} - set(answers)
    with pytest.raises(BadInput, match=str(without)) as refusal:
        list(windows_of(asked, without))
    assert refusal.value.code == "no-window"
    before, after = (datetime.fromtimestamp(answers[without + timedelta(days=n)], REYKJAVIK) for n in (-1, 1))
    assert (before.hour, after.hour) == (23, 0)


def test_a_sunset_after_midnight_is_found_though_its_day_has_none_of_its_own():
    """The last sunset before the midnight sun of Tromsø, where the sun is lowest at 00:44 by the clock."""
    asked = plan((69.65, 18.96), "Europe/Oslo", start="sunset", duration="10min")
    repeated = plan((69.65, 18.96), "Europe/Oslo", start="sunset", duration="10min", every="day", until="2026-06-10")
    may = datetime(2026, 5, 1, tzinfo=OSLO).timestamp()
    last_day, last = [(day, one) for day, one in days(repeated, may) if isinstance(one, Window)][-1]
    its_day = datetime.fromtimestamp(last.start_utc, OSLO).date()
    assert its_day == last_day + timedelta(days=1)
    assert the_one(asked, its_day) == last


def test_of_a_repeated_plan_it_is_that_and_later_and_none_that_was_open_at_midnight():
    midnight = datetime(2026, 10, 3, tzinfo=STOCKHOLM).timestamp()
    late = plan(start="22:00", duration="4h", every="day", skip=["2026-10-04"])
    found = list(islice(windows_of(late, DAY), 3))
    assert [day.day for day, _ in found] == [3, 4, 5]
    assert isinstance(found[0][1], Window)
    assert found[0][1].start_utc == midnight + 22 * 3600
    assert isinstance(found[1][1], NoWindow)
    at_midnight = plan(start="00:00", duration="4h", every="day")
    _, first = next(windows_of(at_midnight, DAY))
    assert isinstance(first, Window)
    assert first.start_utc == midnight


def test_a_plan_that_names_its_moment_is_taken_as_at_that_days_midnight():
    midnight = datetime(2026, 10, 3, tzinfo=STOCKHOLM).timestamp()
    assert the_one(plan(start="now", duration="1h"), DAY).start_utc == midnight
    assert the_one(plan(start="now+10min", duration="1h"), DAY).start_utc == midnight + 600
    dated = plan(start="20:00", duration="1h", date="2026-10-05")
    assert the_one(dated, DAY).start_utc == midnight + 68 * 3600
    assert the_one(plan(start="2026-10-05T20:00", duration="1h"), DAY).start_utc == midnight + 68 * 3600
    with pytest.raises(BadInput) as refusal:
        list(windows_of(dated, date(2026, 10, 6)))
    assert refusal.value.code == "window-past"
