"""Windows of two years at ten places against JPL's DE421 by skyfield, and what listing a year of them costs.

`python -m tests.bench.windows`; tests/decide/test_two_years.py holds the first on every run.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta

import astral
import astral.sun
import numpy as np

from controller.decide import moments
from controller.decide.plan import Plan
from controller.decide.schedule import Window, days
from tests.bench.rigs import machine, ratio
from tests.decide import changed, example, utc
from tests.decide.ephemeris import PLACES
from tests.decide.test_two_years import dusks, evening, found

NOW = utc("2026-10-03T12:00:00")
YEAR = {"every": "day", "from": "2026-10-03", "until": "2027-10-02"}


def places() -> Iterator[str]:
    """A row a place: days with a window by the reference, windows of ours, missed or invented, differences."""
    for place in PLACES:
        expected = dusks(place)
        ours, _ = found(evening(place))
        apart = [
            abs(getattr(ours[day][0], key) - utc)
            for day, moments in expected.items()
            for key, utc in zip(("start_utc", "stop_utc"), moments, strict=True)
            if day in ours
        ]
        wrong = len(set(ours) ^ set(expected)) + sum(len(windows) - 1 for windows in ours.values())
        figures = f"{np.median(apart):.1f} s | {max(apart):.1f} s" if apart else "|"
        yield f"| {place} | {len(expected)} | {sum(map(len, ours.values()))} | {wrong} | {figures} |"


def took_s(work: Callable[[], object]) -> float:
    """Seconds of processor time, the best of three, with nothing remembered from the run before."""
    best = float("inf")
    for _ in range(3):
        moments.sun_events.cache_clear()
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def floor() -> None:
    """Sunset and nautical dusk of a year's days as astral computes them, at the quay."""
    at = astral.Observer(57.7, 11.95)
    for day in (date(2026, 10, 3) + timedelta(days=n) for n in range(365)):
        astral.sun.sunset(at, day, tzinfo=UTC)
        try:
            astral.sun.time_at_elevation(at, -12, day, astral.SunDirection.SETTING, UTC)
        except ValueError:  # not on that day
            continue


def listed(plan: Plan) -> int:
    return sum(isinstance(one, Window) for _, one in days(plan, NOW))


def main() -> None:
    print(machine())
    print(f"{datetime.now(UTC):%Y-%m-%d}")
    print("| place | days with both events | windows | missed or invented | apart: median | most |")
    print("| --- | --- | --- | --- | --- | --- |")
    for row in places():
        print(row)

    least_s = took_s(floor)
    quay = example("quay_at_dusk")
    span = {"stop": "sunrise+1h", "start": "civil_dawn"}
    both = [span, {"start": "sunset-45min", "stop": "nautical_dusk+30min"}]
    hours = [{"start": f"{n:02}:00", "duration": "30min"} for n in range(24)]
    for name, plan in (
        ("one window a day", changed(quay, when=YEAR)),
        ("two by the sun", changed(quay, when=YEAR | {"start": None, "stop": None, "windows": both})),
        ("24 by the clock", changed(quay, when=YEAR | {"start": None, "stop": None, "windows": hours})),
    ):
        seconds = took_s(lambda plan=plan: listed(plan))
        print(
            f"twelve months, {name}: {listed(plan)} windows in {seconds:.2f} s of processor time (goal: at most 2); "
            f"beside sunset and dusk by astral {ratio(seconds, least_s)}"
        )


if __name__ == "__main__":
    main()
