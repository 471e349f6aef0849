"""Two shoots on one camera must not want it at the same time, on whatever day that is."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide.plan import Plan, plan_from
from controller.decide.schedule import Window
from controller.engine.starting import _clashes, require_room
from controller.words.errors import Conflict
from tests.decide import utc
from tests.support.rigs import plan

NOW = utc("2026-11-25T12:00:00")


@dataclass
class Run:
    """As much of a run as is asked: a shoot that was made at NOW and has not begun."""

    plan: Plan
    window: Window | None = None
    stopping: bool = False
    shoot: Any = field(default_factory=lambda: SimpleNamespace(id="other", created_utc=NOW))


def made(when: dict[str, Any], **tables: Any) -> Plan:
    return plan_from(plan(5.0, when=when, **tables))


DAILY = {"every": "day", "start": "06:00", "stop": "08:00"}


def refused(other: Plan | Run, when: dict[str, Any], **tables: Any) -> str:
    with pytest.raises(Conflict) as error:
        require_room([other if isinstance(other, Run) else Run(other)], made(when, **tables), NOW)
    assert error.value.code == "rig-busy"
    assert error.value.where == "shoot other"
    return error.value.what


def test_a_later_window_s_clash_is_found_and_its_day_named():
    saturdays = {"every": ["sat"], "start": "05:00", "stop": "06:30"}
    assert "on 2026-11-28 from 06:00 to 06:30" in refused(made(DAILY), saturdays)
    assert "on 2026-11-28 from 06:00 to 06:30" in refused(made(saturdays), DAILY)


def test_a_clash_a_year_ahead_is_found():
    """At latitude 57.7 the sun sets before three, UTC, from November to January only."""
    evening = {"every": "day", "start": "sunset", "stop": "sunset+30min", "from": "2027-02-01"}
    what = refused(made(evening), {"every": "day", "start": "14:45", "stop": "15:00", "from": "2027-01-15"})
    assert "on 2027-1" in what


def test_windows_that_pass_each_other_by_are_let_in():
    require_room([Run(made(DAILY))], made({"every": "day", "start": "08:00", "stop": "09:00"}), NOW)
    require_room(
        [Run(made({**DAILY, "skip": ["2026-11-28"]}))], made({**DAILY, "every": ["sat"], "until": "2026-11-29"}), NOW
    )
    spans = [{"start": "05:00", "stop": "06:00"}, {"start": "20:00", "frames": 100}]
    require_room([Run(made(DAILY))], made({"every": "day", "windows": spans}), NOW)


def test_counted_and_endless_windows():
    """100 frames at 5 s are 500 s."""
    assert "from 06:00 to 06:05" in refused(made(DAILY), {"start": "2026-11-29T05:56:40", "frames": 100})
    require_room([Run(made(DAILY))], made({"start": "2026-11-29T05:51:40", "frames": 100}), NOW)
    assert "on 2026-11-26 from 06:00 to 08:00" in refused(made(DAILY), {"start": "now"})
    assert "on, until it is stopped" in refused(made({"start": "now"}), {"start": "2027-05-01T10:00"})


def test_the_window_in_hand_counts_as_it_stands_and_a_shoot_that_stops_not_at_all():
    shooting = Run(made({"start": "now", "duration": "1h"}), Window(NOW - 1800, NOW + 5400))
    assert "from 13:00 to 13:30" in refused(
        shooting, {"start": "13:00", "stop": "14:00"}, site={"latitude": 57.7, "longitude": 12}
    )
    shooting.stopping = True
    require_room([shooting], made({"start": "now"}), NOW)


spans = st.lists(st.tuples(st.integers(0, 300), st.integers(1, 20)), max_size=12).map(
    lambda pairs: [(a, a + b) for a, b in sorted(pairs)]
)


def apart(row: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Those that do not overlap the one before, as a plan's own windows do not."""
    kept: list[tuple[int, int]] = []
    for one in row:
        if not kept or one[0] >= kept[-1][1]:
            kept.append(one)
    return kept


@given(spans, spans)
def test_every_pair_that_overlaps_is_found(one: list[tuple[int, int]], other: list[tuple[int, int]]):
    one, other = apart(one), apart(other)
    expected = sorted(
        (max(a[0], b[0]), min(a[1], b[1]))
        for a, b in itertools.product(one, other)
        if max(a[0], b[0]) < min(a[1], b[1])
    )
    assert list(_clashes(iter(one), iter(other))) == expected


def test_a_shoot_that_ends_is_no_hindrance_to_one_long_after_it():
    later = made({"start": "2029-05-01T10:00", "duration": "1h"})
    require_room([Run(made({"start": "now", "frames": 10}))], later, NOW)
