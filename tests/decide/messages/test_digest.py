"""When the digest is due by people's clocks, and what it says. Summer time: Europe/Stockholm in the IANA database."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from controller.decide.messages.digest import Day, due, latest, text

STOCKHOLM = ZoneInfo("Europe/Stockholm")
EIGHT = time(8)


def utc(text_: str) -> float:
    return datetime.fromisoformat(text_).replace(tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("now", "last"),
    [
        ("2026-07-01T06:00", "2026-07-01T06:00"),  # 8:00 in summer time
        ("2026-07-01T05:59", "2026-06-30T06:00"),
        ("2026-12-01T07:00", "2026-12-01T07:00"),  # 8:00 in winter time
        ("2026-12-01T06:59", "2026-11-30T07:00"),
        ("2026-10-25T07:30", "2026-10-25T07:00"),  # the day on which the clock goes back
        ("2027-03-28T06:30", "2027-03-28T06:00"),  # and forward
    ],
)
def test_by_the_clock_of_the_place(now: str, last: str) -> None:
    assert latest(EIGHT, STOCKHOLM, utc(now)) == utc(last)


def test_once_a_day_over_a_year_whatever_the_clock_does() -> None:
    for at in (EIGHT, time(2, 30)):  # the second does not exist on one day, and twice on another
        told, last = [], utc("2026-01-01T00:00")
        for hour in range(2 * 8760):
            now = utc("2026-01-01T00:00") + hour * 1800.0
            if due(at, STOCKHOLM, last, now):
                told.append(now)
                last = now
        assert len(told) == 365, at


def test_what_comes_hours_late_waits_for_the_next_day() -> None:
    """Six hours: a morning's digest comes by day or not at all (common practice, no source)."""
    moment = utc("2026-07-01T06:00")
    assert due(EIGHT, STOCKHOLM, moment - 86_400, utc("2026-07-01T11:59:59"))
    assert not due(EIGHT, STOCKHOLM, moment - 86_400, utc("2026-07-01T12:00:01"))


def test_what_it_says() -> None:
    day = Day(
        done=4310,
        missed=2,
        lost=0,
        shoot="2026-10-20-site",
        state="waiting",
        free_bytes=21_400_000_000,
        hours_left=31.2,
        card_frames=812,
        batteries=(("camera-1", 64),),
        next_utc=utc("2026-10-21T14:30"),
        end_utc=None,
        standing=("Camera battery at 14 %. Charge it",),
        unsaid=1,
    )
    assert text(day, STOCKHOLM).splitlines() == [
        "4310 frames in the last day, 2 missed, 0 lost",
        "2026-10-20-site: next window Wed 21 Oct 16:30",
        "Rig's disk: 21.4 GB free, for 31 h of shooting",
        "Card: room for 812 frames",
        "Battery of camera-1: 64 %",
        "Stands: Camera battery at 14 %. Charge it",
        "1 finding came and went before it could be told; the log has them",
    ]


def test_what_it_says_of_a_shoot_under_way_and_of_none() -> None:
    quiet = Day(0, 0, 0, None, None, None, None, None, (), None, None, ())
    assert text(quiet, STOCKHOLM).splitlines() == [
        "0 frames in the last day, 0 missed, 0 lost",
        "No shoot is under way",
        "Nothing needs attention",
    ]
    shooting = replace(quiet, shoot="2026-10-20-site", state="shooting", dropped=2)
    assert text(shooting, STOCKHOLM).splitlines()[1:] == [
        "2026-10-20-site: shooting",
        "Nothing needs attention",
        "2 messages could not be kept",
    ]
    ending = replace(shooting, end_utc=utc("2026-10-21T04:05"), free_bytes=900_000_000)
    assert text(ending, STOCKHOLM).splitlines()[1:3] == [
        "2026-10-20-site: shooting, until Wed 21 Oct 06:05",
        "Rig's disk: 900 MB free",
    ]
