"""`duskhand sky`, run as a user runs it."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys

import pytest

DUSKHAND = [sys.executable, "-c", "import sys; from controller.commands import main; sys.exit(main())", "sky"]
HARBOUR = ("--lat", "57.7", "--lon", "11.95", "--date", "2026-10-03", "--timezone", "Europe/Stockholm")
SVALBARD = ("--lat", "78.22", "--lon", "15.65")


def run(*args: str, encoding: str = "utf-8", **environment: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONIOENCODING": encoding, **environment}
    return subprocess.run([*DUSKHAND, *args], capture_output=True, encoding="utf-8", env=environment, check=False)


def test_a_day_by_the_clock_at_the_site():
    done = run(*HARBOUR)
    assert (done.returncode, done.stderr) == (0, "")
    rows = {line[:19].strip(): line[19:].split() for line in done.stdout.splitlines()}
    assert rows["civil dusk"][0].startswith("19:19:")
    assert rows["civil dusk"][1] == "−6.0°"
    assert "20:52 – 05:11 04 Oct (8 h 20 min)" in done.stdout
    assert "up 22:02 – 05:11 04 Oct" in done.stdout
    assert "last quarter" in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 80


def test_json_says_the_same():
    found = json.loads(run(*HARBOUR, "--json").stdout)
    dusk = next(e for e in found["events"] if e["name"] == "civil_dusk")
    assert dusk["local"].startswith("2026-10-03T19:19:")
    assert dusk["local"].endswith("+02:00")
    assert dusk["utc"].startswith("2026-10-03T17:19:")
    assert dusk["altitude_deg"] == pytest.approx(-6, abs=0.02)
    assert found["day_length_s"] == pytest.approx(11 * 3600 + 21 * 60, abs=60)
    assert found["kind"] == "sun rises or sets"
    assert found["moon"]["next_phase"]["name"] == "last quarter"


def test_polar_days_and_nights_are_said():
    assert "polar day: the sun does not set" in run(*SVALBARD, "--date", "2026-06-21").stdout
    winter = run(*SVALBARD, "--date", "2026-12-21").stdout
    assert "polar night: highest −11.7°, nautical twilight" in winter
    assert max(len(line) for line in winter.splitlines()) <= 80
    assert (
        "none: it gets no darker than nautical twilight"
        in run("--lat", "57.7", "--lon", "11.95", "--date", "2026-06-21").stdout
    )


def test_a_terminal_without_braille_gets_ascii():
    done = run(*HARBOUR, encoding="ascii")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.isascii()
    assert "*****" in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 80


@pytest.mark.parametrize("columns", [40, 45, 59, 60])
@pytest.mark.parametrize("place", [HARBOUR, (*SVALBARD, "--date", "2026-12-21", "--timezone", "Arctic/Longyearbyen")])
def test_everything_keeps_inside_a_narrow_terminal(place, columns):
    """Below 60 columns the table has neither seconds nor azimuth; nothing else is left out."""
    narrow, wide = run(*place, COLUMNS=str(columns)).stdout, run(*place).stdout
    if columns < 60:
        assert max(len(line) for line in narrow.splitlines()) <= columns
        words = " ".join(narrow.split())
        for line in wide[: wide.index("moon at midnight")].splitlines():
            if line[:19].strip() and ":" not in line[19:28] and "azimuth" not in line:
                assert " ".join(line[19:].split()) in words
    times = {line[:19].strip(): line[19:27] for line in wide.splitlines() if line[21:22] == line[24:25] == ":"}
    assert times
    for name, at in times.items():
        row = next(line for line in narrow.splitlines() if line.startswith(name))
        minutes = [int(text[:2]) * 60 + int(text[3:5]) for text in (row[19:24], at)]
        assert (minutes[0] - minutes[1]) % 1440 in (0, 1)


def test_a_phase_is_named_once():
    """The last quarter of 3 October 2026, 13:25 UTC: from memory."""
    assert "last quarter, 46 % lit; exact 03 Oct 15:25" in run(*HARBOUR).stdout
    before = run(*HARBOUR[:4], "--date", "2026-09-30").stdout
    assert re.search(r"waning gibbous, \d+ % lit; last quarter 03 Oct", before)


@pytest.mark.parametrize(("option", "text"), [("--lat", "40,5"), ("--lon", "11,95")])
def test_a_decimal_comma_is_told_its_point(option, text):
    done = run(*HARBOUR, option, text)
    assert done.returncode == 2
    assert f"argument {option}: '{text}' is no number: write {text.replace(',', '.')}" in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("columns", [40, 60])
def test_the_drawing_keeps_inside_a_narrow_terminal(columns):
    lines = run(*HARBOUR, COLUMNS=str(columns)).stdout.splitlines()
    drawing = lines[next(k for k, line in enumerate(lines) if line.startswith(("+", "−"))) :]
    assert len(drawing) > 13
    assert max(len(line) for line in drawing) <= columns
    hours = next(line.split() for line in drawing if line.split()[:1] in (["00"], ["03"]))
    assert sorted(hours) == [f"{hour:02}" for hour in range(0, 24, 3)]


def test_the_curve_of_the_chart_is_highest_at_noon_and_crosses_the_horizon_with_the_sun():
    """Read back from the drawing: the band says day between sunrise and sunset, the curve is above 0° there."""
    lines = run(*HARBOUR, encoding="ascii").stdout.splitlines()
    band = next(line for line in lines if "####" in line)
    chart = lines[lines.index(band) - 13 : lines.index(band)]
    level = next(k for k, line in enumerate(chart) if line.startswith("  0 "))
    sun = {x: k for k, line in enumerate(chart) for x, mark in enumerate(line) if mark == "*"}
    for x, k in sun.items():
        assert (k <= level) if band[x : x + 1] == "#" else (k >= level)
    top = [x for x, k in sun.items() if k == min(sun.values())]
    assert abs(sum(top) / len(top) - (5 + 36)) <= 1.5  # the middle of the drawing is noon
    assert len(re.findall("#", band)) == pytest.approx(73 * 11.35 / 24, abs=1.5)


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("--lat", "91", "--lon", "0"), "--lat: 91 is no latitude. Give degrees from -90 to 90"),
        (("--lat", "nan", "--lon", "0"), "--lat: nan is no latitude"),
        (("--lat", "0", "--lon", "-181"), "--lon: -181 is no longitude"),
        (("--lat", "north", "--lon", "0"), "argument --lat: 'north' is no number: write it like 57.7"),
        (("--lat", "0"), "the following arguments are required: --lon"),
        (("--lat", "0", "--lon", "0", "--date", "2026-02-30"), "is no date. Give one that the calendar has"),
        (("--lat", "0", "--lon", "0", "--date", "1899-12-31"), "--date: 1899-12-31 is out of range"),
        (("--lat", "0", "--lon", "0", "--timezone", "Europe/Stokholm"), "Did you mean Europe/Stockholm?"),
    ],
)
def test_bad_input_is_one_line_and_exit_code_2(args, says):
    done = run(*args)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert says in done.stderr


@pytest.mark.parametrize("on", ["1900-01-01", "2100-12-31"])
@pytest.mark.parametrize("latitude", ["90", "-90", "0"])
def test_the_ends_of_the_earth_and_of_the_years(latitude, on):
    done = run("--lat", latitude, "--lon", "180", "--date", on)
    assert (done.returncode, done.stderr) == (0, "")
