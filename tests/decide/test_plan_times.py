"""Windows, paces and regions at the edge of what a plan may ask for."""

from __future__ import annotations

import pytest

from controller.decide.plan import plan_from
from controller.words.errors import BadInput
from tests.decide import changed, example

QUAY = example("quay_at_dusk")


@pytest.mark.parametrize(
    "when",
    [
        {"start": "sunset", "duration": "3660d"},
        {"start": "06:30", "duration": "7d", "every": ["mon"]},
        {"start": "06:30", "duration": "2d", "every": ["mon", "wed", "sat"]},
        {"start": "sunset", "duration": "1h", "every": "day", "from": "2026-12-01", "until": "2026-12-01"},
        {"start": "sunset", "duration": "24h", "every": "day"},
        {"start": "18:20", "stop": "06:10", "every": "day"},
        {"start": "2026-10-03T18:20", "stop": "2026-10-04T06:10"},
        {"start": "now+10min", "frames": 900},
    ],
)
def test_windows_that_just_go(when):
    """As long as from one window to the next, on one day alone, over midnight: none of it is refused."""
    document = QUAY.document() | {"when": when}
    assert plan_from(document).document()["when"]["start"] == when["start"]


def test_each_of_several_windows_is_looked_at():
    """900 frames of 5 s at least take 75 minutes; 20,000 take 27 h 47 min."""
    windows = [
        {"start": "06:30", "duration": "1h"},
        {"start": "10:00", "frames": 900},
        {"start": "18:00", "frames": 20_000},
    ]
    with pytest.raises(BadInput, match="20000 frames take 27 h 47 min or more, but the next window begins 24 h 00 min"):
        plan_from(QUAY.document() | {"when": {"every": "day", "windows": windows}})
    windows[2] = {"start": "18:00", "duration": "4s"}
    with pytest.raises(BadInput, match=r"an interval of 5 s is longer than the window, 4\.0 s"):
        plan_from(QUAY.document() | {"when": {"every": "day", "windows": windows}})


@pytest.mark.parametrize(
    ("start", "stop", "is_short"),
    [
        ("18:20", "18:20:03", True),
        ("18:20", "18:20:05", False),
        ("18:20", "18:19:59", False),  # the next day's
        ("18:20+02:00", "18:20:03+02:00", True),
        ("18:20+02:00", "18:20:03+01:00", False),  # an hour and three seconds
        ("2026-10-03T18:20", "2026-10-03T18:20:03", True),
        ("2026-10-03T18:20", "2026-10-04T18:20:03", False),
        ("2026-10-03T18:20Z", "2026-10-03T18:20:03Z", True),
        ("2026-10-03T18:20Z", "2026-10-03T18:20:06Z", False),
    ],
)
def test_a_window_by_the_clock_holds_an_interval(start: str, stop: str, is_short: bool):
    """The plan's least is 5 s."""
    document = QUAY.document() | {"when": {"start": start, "stop": stop}}
    if not is_short:
        assert plan_from(document).when.stop == stop
        return
    with pytest.raises(BadInput, match=r"an interval of 5 s is longer than the window, 3\.0 s"):
        plan_from(document)


def test_a_timed_pace_fills_a_stop_or_a_duration():
    pace = {"kind": "timed", "from_s": 12, "to_s": 20}
    for when in ({"stop": "civil_dusk"}, {"stop": None, "duration": "2h"}):
        assert changed(QUAY, pace=pace, when=when).pace.over is None
    assert changed(QUAY, pace=pace | {"over": "0.5s"}).pace.over == "0.5s"


@pytest.mark.parametrize(
    "points", [[[-6, 9.0], [-5.5, 8.0], [-5.2, 7.0]], [[0.5, 5.0], [0.2, 6.0], [-0.1, 7.0]], [[3, 5.0]]]
)
def test_points_close_together_are_in_order(points: list[list[float]]):
    assert [list(point) for point in changed(QUAY, pace={"points": points}).pace.points] == points


@pytest.mark.parametrize(
    ("rects", "is_left"),
    [
        ([[0, 0, 0.5, 1]], True),
        ([[0, 0, 0.5, 1], [0.5, 0, 1, 1]], False),
        ([[0, 0, 0.5, 1], [0.5, 0, 1, 0.5]], True),
        ([[0, 0, 0.5, 1], [0.5, 0, 1, 0.5], [0.5, 0.5, 1, 1]], False),
        ([[0, 0, 1, 0.3], [0, 0.3, 1, 1]], False),
        ([[0, 0, 1, 0.3], [0, 0.4, 1, 1]], True),
        ([[0.2, 0, 1, 1], [0, 0.3, 1, 1]], True),
        ([[0.2, 0, 1, 1], [0, 0.3, 1, 1], [0, 0, 0.2, 0.3]], False),
    ],
)
def test_regions_leave_something_to_meter(rects: list[list[float]], is_left: bool):
    """Rectangles on paper: whether they cover all of the picture."""
    regions = [{"rect": rect} for rect in rects]
    if is_left:
        assert len(changed(QUAY, light={"regions": regions}).light.metered_regions()) == len(rects)
        return
    with pytest.raises(BadInput, match="leave nothing of the picture to meter"):
        changed(QUAY, light={"regions": regions})
    regions[-1]["weight"] = 0.5
    assert changed(QUAY, light={"regions": regions}).light.regions
