"""Curves of many slots, thinned, and their pictures; read back by Pillow and by an XML parser."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from controller.results.report.curves import Collector, Curves
from controller.results.report.plots import format_of, plot
from controller.words.documents import Frame, FrameState
from controller.words.errors import BadInput

START_UTC = 1_792_513_500.0


def slot(seq: int, state: FrameState = FrameState.WRITTEN) -> Frame:
    return Frame(
        shoot="an-invented-evening",
        seq=seq,
        camera="model",
        due_utc=START_UTC + 10.0 * seq,
        interval_s=10.0,
        shutter_s=1 / 64 if state is FrameState.WRITTEN else None,
        aperture=2.8,
        iso=100.0,
        exposure_ev=9.0 - seq * 0.01,
        target_ev=9.0 - seq * 0.01,
        sun_altitude_deg=3.0 - seq * 0.03,
        state=state,
    )


@given(st.integers(0, 400), st.integers(4, 60))
def test_thinned_curves_keep_the_first_slot_and_even_steps(slots: int, most: int):
    curves = Curves.of((slot(seq) for seq in range(1, slots + 1)), most)
    assert len(curves.utc) <= most
    assert curves.utc == [START_UTC + 10.0 * seq for seq in range(1, slots + 1, curves.every)]
    assert len(curves.exposure_ev) == len(curves.interval_s) == len(curves.utc)
    assert len(curves.utc) * 2 >= min(slots, most) - 1  # no more is let go than has to be


def test_missed_slots_are_told_however_thin_the_curves():
    curves = Curves()
    collect = Collector(curves, 10)
    for seq in range(1, 200):
        collect(slot(seq, FrameState.MISSED if seq == 101 else FrameState.WRITTEN))
    assert curves.missed_utc == [START_UTC + 1010.0]


@pytest.mark.parametrize("slots", [0, 1, 2, 300])
def test_a_picture_of_any_number_of_slots(slots: int):
    curves = Curves.of(slot(seq, FrameState.MISSED if seq == 7 else FrameState.WRITTEN) for seq in range(1, slots + 1))
    zone = ZoneInfo("Europe/Stockholm")
    image = Image.open(io.BytesIO(plot(curves, zone, "an invented evening", "png")))
    image.load()
    assert image.format == "PNG"
    assert min(image.size) >= 700
    svg = plot(curves, zone, "an invented evening", "svg")
    root = ElementTree.fromstring(svg)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert svg == plot(curves, zone, "an invented evening", "svg")
    assert b"2026-11" not in svg.split(b"<defs>")[0]  # no time of making: the same curves give the same file


@pytest.mark.parametrize(("missed", "runs"), [((), 0), ((9, 20), 2), ((9, 10, 11), 1), ((9, 10, 30), 2)])
def test_missed_slots_that_follow_each_other_are_one_shade(missed: tuple[int, ...], runs: int):
    states = dict.fromkeys(missed, FrameState.MISSED)
    curves = Curves.of(slot(seq, states.get(seq, FrameState.WRITTEN)) for seq in range(1, 50))
    drawn = plot(curves, ZoneInfo("UTC"), "t", "svg")
    assert drawn.count(b"fill: #a3123a") == 2 * runs  # over the interval and over the light


def test_no_line_is_drawn_over_a_pause():
    frames = [slot(seq) for seq in (*range(1, 20), *range(2000, 2020))]
    curves = Curves.of(frames)
    assert curves.breaks() == [18]
    lines = [len(line.get_xdata()) for line in _lines(curves)]
    assert lines
    assert all(count == 40 for count in lines)  # 39 slots, and one place at which nothing is known


def _lines(curves: Curves) -> list:
    from matplotlib.figure import Figure

    from controller.results.report.plots import _panels

    figure = Figure()
    _panels(figure, curves, ZoneInfo("UTC"))
    return figure.axes[1].get_lines()


def test_other_formats_are_refused_in_one_line():
    assert format_of(Path("night.SVG")) == "svg"
    with pytest.raises(BadInput, match="no SVG and no PNG"):
        format_of(Path("night.jpg"))


def test_the_daemon_does_not_carry_the_drawing_library():
    """It is large, and a rig draws nothing."""
    code = "import sys, controller.daemon, api.app, controller.commands.rehearse; sys.exit('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
