"""Several windows a day."""

from __future__ import annotations

from datetime import date, datetime
from itertools import islice, pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from controller.decide.plan import Plan, plan_from
from controller.decide.schedule import NoWindow, Window, clock_skips, days, windows, windows_of
from controller.words.errors import BadInput
from tests.decide import changed, example, utc

ZONE = ZoneInfo("Europe/Stockholm")
DAWN = {"start": "civil_dawn", "stop": "sunrise+1h"}
LATE = {"start": "16:00", "duration": "45min"}


def several(*spans: dict, **when: object) -> Plan:
    when = {"windows": list(spans), **when}
    return changed(example("quay_at_dusk"), when={"start": None, "stop": None, **when})


def alone(span: dict, **when: object) -> Plan:
    return changed(example("quay_at_dusk"), when={"start": None, "stop": None, **span, **when})


@given(st.integers(0, 700 * 86_400))
def test_they_are_the_windows_of_each_alone_in_order_of_time(after: int):
    now = utc("2026-01-01T00:00:00") + after
    when = {"every": "day", "from": "2025-12-30", "until": "2028-03-01"}
    both = windows(several(LATE, DAWN, **when), now)
    each = [list(islice(windows(alone(span, **when), now), 4)) for span in (LATE, DAWN)]
    expected = sorted((w.start_utc, w.stop_utc, part) for part, found in enumerate(each) for w in found)
    for start, stop, part in expected[:4]:
        window = next(both)
        assert (window.start_utc, window.stop_utc, window.part) == (start, stop, part)


def test_without_every_each_is_shot_once_the_next_time_that_it_comes_round():
    noon = datetime(2026, 10, 3, 12, tzinfo=ZONE).timestamp()
    late, dawn = windows(several(DAWN, LATE), noon)
    assert late.start_utc == datetime(2026, 10, 3, 16, tzinfo=ZONE).timestamp()
    assert dawn == Window(*_of(alone(DAWN), noon), part=0)
    assert datetime.fromtimestamp(dawn.start_utc, ZONE).date() == date(2026, 10, 4)


def _of(plan: Plan, now: float) -> tuple[float, float | None]:
    window = next(windows(plan, now))
    return window.start_utc, window.stop_utc


def test_of_a_date_those_that_are_over_are_left_out():
    plan = several(DAWN, LATE, date="2026-10-03")
    assert len(list(windows(plan, utc("2026-10-02T12:00:00")))) == 2
    assert [w.part for w in windows(plan, utc("2026-10-03T12:00:00"))] == [1]
    with pytest.raises(BadInput, match="over"):
        next(windows(plan, utc("2026-10-03T20:00:00")))
    assert [w.part for _, w in windows_of(plan, date(2026, 10, 3))] == [0, 1]


def test_overlapping_windows_are_refused_or_left_out_on_the_days_on_which_they_overlap():
    """Civil dusk at 57.7° N is after 16:00 in December, so before 17:00 on its shortest days only."""
    spans = ({"start": "14:00", "stop": "civil_dusk"}, {"start": "16:30", "duration": "30min"})
    with pytest.raises(BadInput, match="overlaps the window") as refusal:
        list(windows(several(*spans), utc("2026-10-03T06:00:00")))
    assert refusal.value.code == "windows-overlap"
    found = list(days(several(*spans, every="day", until="2027-01-31"), utc("2026-10-03T06:00:00")))
    left_out = {day for day, one in found if isinstance(one, NoWindow)}
    assert date(2026, 12, 15) not in left_out
    assert date(2026, 10, 20) in left_out
    by_day = [one for _, one in found if isinstance(one, Window)]
    assert all(a.stop_utc <= b.start_utc for a, b in pairwise(by_day))


def test_skipped_days_have_none_of_them():
    plan = several(DAWN, LATE, every="day", until="2026-10-06", skip=["2026-10-04"])
    found = list(days(plan, utc("2026-10-03T00:00:00")))
    assert [day.day for day, one in found if isinstance(one, NoWindow)] == [4]
    assert [day.day for day, one in found if isinstance(one, Window)] == [3, 3, 5, 5, 6, 6]


def test_a_time_that_the_clock_leaves_out_is_told_of_the_right_window():
    plan = several(LATE, {"start": "02:20", "stop": "05:00"}, date="2027-03-28")
    early, late = windows(plan, utc("2027-03-27T12:00:00"))
    assert [(key, text) for key, text, _ in clock_skips(plan, early)] == [("start", "02:20")]
    assert clock_skips(plan, late) == []


@pytest.mark.parametrize(
    ("when", "where", "what"),
    [
        (
            {"every": "day", "windows": [{"start": "20:00", "duration": "11h"}, {"start": "06:30", "duration": "1h"}]},
            "[when] windows[1] start",
            "on every day",
        ),
        (
            {
                "every": ["mon"],
                "windows": [{"start": "sunset", "frames": 9}, {"start": "sunset-5min", "duration": "1h"}],
            },
            "[when] windows[0] start",
            "on every day",
        ),
        ({"windows": [DAWN], "start": "sunset"}, "[when] start", "stands beside"),
        ({"windows": [DAWN], "frames": 10}, "[when] frames", "stands beside"),
        ({"windows": []}, "[when] windows", "empty"),
        ({"windows": DAWN}, "[when] windows", "no table"),
        ({"windows": [LATE, "16:00"]}, "[when] windows[1]", "no table"),
        ({"windows": [{"start": "sunsett", "stop": "civil_dusk"}]}, "[when] windows[0] start", "no sun event"),
        ({"windows": [{"start": "sunset", "stop": "sunset"}]}, "[when] windows[0] stop", "same as"),
        ({"windows": [{"start": "now", "duration": "1h"}]}, "[when] windows[0] start", "come round"),
        ({"windows": [{"start": "2026-10-03T18:20", "duration": "1h"}]}, "[when] windows[0] start", "come round"),
        ({"windows": [LATE, {"start": "sunset"}]}, "[when] windows[1] start", "needs an end"),
        ({"windows": [{"stop": "sunset"}]}, "[when] windows[0] start", "missing"),
        ({"windows": [{**LATE, "frames": 3}]}, "[when] windows[0] frames", "both say"),
        ({"windows": [{**LATE, "stopp": 3}]}, "[when] windows[0] stopp", "unknown key"),
    ],
)
def test_bad_input(when: dict, where: str, what: str):
    document = example("quay_at_dusk").document()
    document["when"] = when
    with pytest.raises(BadInput, match=what) as refusal:
        plan_from(document)
    assert refusal.value.where == where
    assert refusal.value.remedy


STARTS = st.one_of(
    st.integers(0, 47).map(lambda n: f"{n // 2:02}:{n % 2 * 30:02}"),
    st.tuples(st.sampled_from(["sunrise", "noon", "civil_dusk"]), st.integers(1, 300)).map(
        lambda p: f"{p[0]}+{p[1]}min"
    ),
)
SPANS = st.lists(st.tuples(STARTS, st.integers(1, 30)), min_size=2, max_size=4)


@given(st.integers(0, 60), st.integers(1, 30), SPANS)
def test_what_overlaps_is_left_out_the_same_whenever_one_asks(begin: int, later: int, spans: list[tuple[str, int]]):
    """From whichever moment on: the windows that are open then or begin later are those of the first list."""
    spans = [{"start": start, "duration": f"{half_hours * 30}min"} for start, half_hours in spans]
    try:
        plan = several(*spans, every="day", until="2026-12-31")
    except BadInput as refusal:
        assume("on every day" not in refusal.what)
        raise
    now = utc("2026-10-01T00:00:00") + begin * 3600
    try:
        first = [window for _, window in days(plan, now) if isinstance(window, Window)]
    except BadInput:  # each is in the way of the other
        first = []
    then = now + later * 7200
    left = [w for w in first if w.stop_utc > then]
    if left:
        assert [w for _, w in days(plan, then) if isinstance(w, Window)] == left
    else:
        with pytest.raises(BadInput, match="nothing is left"):
            list(days(plan, then))


def test_over_midnight_into_a_day_that_is_not_the_plan_s_nothing_overlaps():
    late = {"start": "20:00", "duration": "11h"}
    assert len(several(late, {"start": "06:30", "duration": "1h"}, every=["mon", "wed"]).when.parts()) == 2


def test_a_window_of_several_days_is_still_open_on_the_third():
    plan = alone({"start": "18:20", "duration": "3d"}, every=["thu"])
    thursday = datetime(2026, 10, 1, 18, 20, tzinfo=ZONE).timestamp()
    assert next(windows(plan, thursday + 2.5 * 86_400)).start_utc == thursday


@given(SPANS)
def test_of_a_day_no_two_overlap_and_nothing_is_left_out_for_no_reason(spans: list[tuple[str, int]]):
    """Each one alone is either shot with the others, or overlaps one that is shot and stands before it in the plan."""
    spans = [{"start": start, "duration": f"{half_hours * 30}min"} for start, half_hours in spans]
    when = {"every": "day", "from": "2026-10-01", "until": "2026-10-20"}
    try:
        plan = several(*spans, **when)
    except BadInput as refusal:
        assume("on every day" not in refusal.what)
        raise
    now = utc("2026-09-01T00:00:00")
    shot = list(windows(plan, now))
    assert all(a.stop_utc <= b.start_utc for a, b in pairwise(sorted(shot, key=lambda w: w.start_utc)))
    for part, span in enumerate(spans):
        kept = {w.start_utc for w in shot if w.part == part}
        for window in windows(alone(span, **when), now):
            reason = [
                w for w in shot if w.part < part and w.start_utc < window.stop_utc and window.start_utc < w.stop_utc
            ]
            assert (window.start_utc in kept) != bool(reason)
