"""Curves as characters."""

from __future__ import annotations

import re
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from controller.commands.curves_chart import charts
from controller.commands.drawing import Style
from controller.results.report.curves import Curves

ZONE = ZoneInfo("UTC")
HOURS = 4


def ramp() -> Curves:
    """Four hours in which the interval doubles and the light falls by 12 EV."""
    slots = 241
    share = [k / (slots - 1) for k in range(slots)]
    return Curves(
        utc=[1_792_512_000.0 + 3600.0 * HOURS * s for s in share],
        sun_altitude_deg=[5.0 - 20.0 * s for s in share],
        interval_s=[20.0 + 20.0 * s for s in share],
        shutter_s=[2.0 ** (-9 + 12 * s) for s in share],
        aperture=[2.8] * slots,
        iso=[100.0] * slots,
        exposure_ev=[12.0 - 12.0 * s for s in share],
        target_ev=[12.0 - 12.0 * s for s in share],
        scene_ev=[None] * slots,
    )


@pytest.mark.parametrize("columns", [38, 45, 80, 120, 300])
@pytest.mark.parametrize("braille", [True, False])
def test_no_line_is_wider_than_the_terminal(columns: int, braille: bool):
    lines = charts(ramp(), ZONE, Style(braille, False), columns)
    assert max(map(len, lines)) <= columns
    assert braille or all(line.isascii() for line in lines)


def test_the_light_falls_from_top_left_to_bottom_right():
    lines = charts(ramp(), ZONE, Style(False, False), 80)
    drawing = lines[lines.index("EV at ISO 100: *** set  o o scene") + 1 :][:8]
    assert drawing[0].startswith("    +12 *")
    assert drawing[-1].startswith("      0 ")
    assert drawing[-1].rstrip().endswith("*")
    places = [[x for x, mark in enumerate(line[8:]) if mark == "*"] for line in drawing]
    assert all(marks for marks in places)
    assert all(above[-1] < below[-1] for above, below in pairwise(places))
    middle = [y for y, marks in enumerate(places) if 36 in marks]
    assert middle == [4] or middle == [3, 4] or middle == [3]


def test_hours_stand_under_their_places():
    scale = next(line for line in charts(ramp(), ZONE, Style(False, False), 80) if line.split()[:1] == ["16"])
    assert scale.split() == ["16", "17", "18", "19"]
    places = [scale.index(hour) for hour in scale.split()]
    assert {after - before for before, after in pairwise(places)} == {18}


def test_a_single_slot_is_no_curve():
    assert charts(Curves(), ZONE, Style(True, False), 80) == []


def test_full_lines_are_bold_and_nothing_is_told_by_colour():
    lines = "\n".join(charts(ramp(), ZONE, Style(True, True), 80))
    assert set(re.findall(r"\x1b\[[0-9;]*m", lines)) == {"\x1b[1m", "\x1b[0m"}
    bold = re.compile(r"\x1b\[1m(.)\x1b\[0m")
    assert bold.sub(r"\1", lines).splitlines() == charts(ramp(), ZONE, Style(True, False), 80)
    exposure = [line for line in lines.splitlines()[1:12] if "⣀" in line and "\x1b" not in line]
    assert exposure, "the dashed line of the exposure is bold too"
