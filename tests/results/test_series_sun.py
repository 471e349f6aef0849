"""One frame a day with the sun in the same place, held against skyfield with JPL's DE421."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from skyfield.api import wgs84

from controller.decide.sun import position
from controller.results.series.same_sun import OneADay, apart, side_of, told
from controller.results.series.wanted import SameSun, Wanted, days_of, series_of, skip_of, within_of
from controller.words.documents import Frame, FrameState
from controller.words.errors import BadInput
from tests.decide.ephemeris import opened

INTERVAL_S = 300.0
OURS_DEG = 0.03  # what our sun may be off by (tests/decide/test_sun.py)
SITE = (52.1, 5.2, "Europe/Amsterdam")
SYDNEY = (-33.87, 151.21, "Australia/Sydney")
Place = tuple[float, float, str]


def rows(place: Place, days: list[date], interval_s: float = INTERVAL_S) -> Iterator[Frame]:
    """Around the clock on these local days, at no round times."""
    latitude, longitude, timezone = place
    seq = 0
    for day in days:
        midnight_utc = datetime(day.year, day.month, day.day, tzinfo=ZoneInfo(timezone)).timestamp()
        for due_utc in midnight_utc + 37.0 + np.arange(0, 86_000, interval_s):
            seq += 1
            altitude, azimuth = position(latitude, longitude, float(due_utc))
            yield Frame(
                shoot="hall", seq=seq, camera="camera-1", due_utc=due_utc, interval_s=interval_s, preview=True,
                sun_altitude_deg=altitude, sun_azimuth_deg=azimuth, state=FrameState.WRITTEN,
            )  # fmt: skip


@cache
def year(place: Place, step: int = 11) -> list[Frame]:
    """Every eleventh day of one."""
    first = date(2026, 1, 3).toordinal()
    return list(rows(place, [date.fromordinal(first + number) for number in range(0, 360, step)]))


def chosen(place: Place, series: str, frames: Iterable[Frame], **more: float) -> tuple[list[Frame], list[str]]:
    found = series_of(series)
    assert isinstance(found, SameSun)
    one = OneADay(Wanted(found, **more), ZoneInfo(place[2]), lambda frame: frame.preview)  # type: ignore[arg-type]
    for frame in frames:
        one.take(frame)
    frames_, without = one.chosen()
    return frames_, told(without)


def sky(place: Place, utc: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Altitude without refraction and azimuth of the sun, degrees, by skyfield."""
    bodies, scale = opened()
    at = scale.from_datetimes([datetime.fromtimestamp(float(each), UTC) for each in utc])
    seen = (bodies["earth"] + wgs84.latlon(place[0], place[1])).at(at).observe(bodies["sun"]).apparent()
    altitude, azimuth, _ = seen.altaz()
    return altitude.degrees, azimuth.degrees


@pytest.mark.parametrize(("place", "deg"), [(SITE, 180.0), (SITE, 135.0), (SYDNEY, 0.0), (SYDNEY, 300.0)])
def test_shadows_point_the_same_way_through_the_year(place: Place, deg: float) -> None:
    """Off by no more than what the sun moves in half an interval."""
    frames, _ = chosen(place, f"sun-azimuth={deg:g}", year(place), within_deg=9.0)
    utc = np.array([frame.due_utc for frame in frames])
    assert len(frames) >= 33
    _, azimuth = sky(place, utc)
    _, before = sky(place, utc - INTERVAL_S / 2)
    _, after = sky(place, utc + INTERVAL_S / 2)
    half = np.maximum([apart(*pair) for pair in zip(azimuth, before, strict=True)],
                      [apart(*pair) for pair in zip(azimuth, after, strict=True)])  # fmt: skip
    off = np.array([apart(each, deg) for each in azimuth])
    assert (off <= half + OURS_DEG).all(), (off - half).max()


@pytest.mark.parametrize(("place", "side"), [(SITE, "morning"), (SITE, "evening"), (SYDNEY, "morning")])
def test_shadows_are_as_long_through_the_year(place: Place, side: str) -> None:
    frames, without = chosen(place, f"sun-altitude=12,{side}", year(place))
    utc = np.array([frame.due_utc for frame in frames])
    altitude, _ = sky(place, utc)
    before, _ = sky(place, utc - INTERVAL_S / 2)
    after, _ = sky(place, utc + INTERVAL_S / 2)
    half = np.maximum(np.abs(altitude - before), np.abs(after - altitude))
    assert (np.abs(altitude - 12) <= half + OURS_DEG).all()
    assert ((after > before) == (side == "morning")).all()
    assert len(frames) >= 30
    assert all("nothing was shot" in line for line in without)  # the days that were left out above


def test_every_side_is_that_of_the_hour_angle() -> None:
    """The sun is in the east while it rises, by skyfield, on both hemispheres and in the tropics."""
    for place in (SITE, SYDNEY, (3.1, 101.7, "UTC"), (70.0, 25.0, "UTC")):
        utc = datetime(2026, 6, 11, tzinfo=UTC).timestamp() + np.arange(0, 86_400, 977.0)
        _, azimuth = sky(place, utc)
        rising = sky(place, utc + 5)[0] > sky(place, utc - 5)[0]
        assert [side_of(each) == "morning" for each in azimuth] == rising.tolist(), place


def test_days_without_a_frame_are_named() -> None:
    days = [date(2026, 12, day) for day in (20, 21, 22, 25)]
    frames = list(rows(SITE, days))
    for frame in frames:
        local = datetime.fromtimestamp(frame.due_utc, ZoneInfo(SITE[2]))
        if local.day == 21 and local.hour in (11, 12, 13):
            frame.preview = False
        if local.day == 22:
            frame.state, frame.cause = FrameState.MISSED, "the camera did not answer"
    found, without = chosen(SITE, "sun-azimuth=180", frames)
    assert [datetime.fromtimestamp(frame.due_utc, UTC).day for frame in found] == [20, 25]
    assert without[0] == "2026-12-21: no frame within 3° of it"
    assert without[1:] == ["2026-12-22: no frame with a picture", "2026-12-23 – 2026-12-24: nothing was shot"]


def test_a_sun_that_does_not_get_so_high() -> None:
    noon_deg = 90 - SITE[0] - 23.44  # the altitude of the noon of the winter solstice: 14.5°
    days = [date(2026, 12, 20), date(2026, 12, 21)]
    found, without = chosen(SITE, f"sun-altitude={noon_deg + 3.1:.1f},morning", rows(SITE, days))
    assert found == []
    assert without == ["2026-12-20 – 2026-12-21: the sun was not so high in any frame"]
    found, _ = chosen(SITE, f"sun-altitude={noon_deg - 0.1:.1f},morning", rows(SITE, days))
    assert len(found) == 2


def test_days_are_those_of_the_site() -> None:
    """Sydney's noon of the 2nd is the 2nd at 02:00 UTC, and its morning the UTC evening before."""
    first, last = days_of("2026-03-02..2026-03-02")
    series = series_of("sun-altitude=10,morning")
    assert isinstance(series, SameSun)
    one = OneADay(Wanted(series, first=first, last=last), ZoneInfo(SYDNEY[2]), lambda frame: True)
    for frame in rows(SYDNEY, [date(2026, 3, 1), date(2026, 3, 2), date(2026, 3, 3)]):
        one.take(frame)
    found, without = one.chosen()
    assert [datetime.fromtimestamp(f.due_utc, ZoneInfo(SYDNEY[2])).date() for f in found] == [date(2026, 3, 2)]
    assert datetime.fromtimestamp(found[0].due_utc, UTC).date() == date(2026, 3, 1)
    assert without == []


@pytest.mark.parametrize(
    ("read", "text", "said"),
    [
        (series_of, "sun-azimuth=400", "series: 400° is no azimuth of the sun. Give 0 to 360"),
        (series_of, "sun-altitude=91,morning", "series: 91° is no altitude of the sun. Give -90 to 90"),
        (series_of, "moon-azimuth=90", "Write sun-azimuth=180, sun-altitude=20,morning"),
        (series_of, "sun-azimuth=180,morning", "is no series of frames"),
        (series_of, "sun-altitude=20", "twice a day. Write sun-altitude=20,morning or …,evening"),
        (series_of, "sun-altitude=nan,morning", "is no series of frames"),
        (series_of, "noon", "'noon' is no series of frames"),
        (skip_of, " , ", "' , ' names nothing to leave out. Write fog, drops, night"),
        (skip_of, "fog,rain", "'rain' cannot be told from a picture. Write fog, drops, night"),
        (days_of, "..", "are no days"),
        (
            days_of,
            "2026-05-01..2026-04-01",
            "ends before it begins. Write the earlier day first: 2026-04-01..2026-05-01",
        ),
        (days_of, "May", "are no days. Write two days like 2026-12-01..2027-05-31"),
        (within_of, "0", "Give 0.1 to 90"),
    ],
)
def test_what_cannot_be_used_is_said_in_a_line(read: object, text: str, said: str) -> None:
    with pytest.raises(BadInput) as raised:
        read(text)  # type: ignore[operator]
    assert said in str(raised.value)
    assert raised.value.code == "bad-series"
    assert "\n" not in str(raised.value)
