"""Plan documents that nobody wrote: likely ones, at the limits and beyond them, and ones with something wrong."""

from __future__ import annotations

import json
import tomllib
from typing import Any

from hypothesis import strategies as st

from tests.decide import PLANS

Document = dict[str, Any]


def plain(written: Any) -> Any:
    """A document as JSON has it: days and times as text."""
    return json.loads(json.dumps(written, default=lambda value: value.isoformat()))


BASES = [json.dumps(plain(tomllib.loads(path.read_text("utf-8")))) for path in PLANS]

LEFT_OUT = object()
_TIMES = [
    "sunset-45min",
    "civil_dawn+1h30min",
    "noon",
    "18:20",
    "23:59:30",
    "2026-10-03T18:20",
    "2026-03-29T02:30",
    "now",
]
_TIMES += [
    "now+1d",
    "sunset+30h",
    "2026-10-03T18:20+02:00",
    "2100-12-31T23:59",
    "2026-02-30T10:00",
    "astronomical_dusk",
]
_LENGTHS = ["3h", "90min", "1h30min", "45s", "0s", "2d", "25h", "999999d", "0.5s"]
_SPANS = [
    {"start": "06:30", "stop": "09:00"},
    {"start": "sunset-1h", "duration": "2h"},
    {"start": "civil_dawn", "stop": "sunrise+1h"},
    {"start": "20:00", "duration": "12h"},
    {"start": "08:00", "frames": 40},
    {"start": "noon", "stop": "noon"},
    {"start": "now", "stop": "18:00"},
    {"start": "18:00"},
    {"start": "18:00", "duration": "1h", "frames": 9},
]
_VALUES: dict[str, list[Any]] = {
    "name": ["x", "a" * 64, "a" * 65, "ä", "", "-x", "x\n"],
    "site latitude": [0, 90, -90, 90.5, 78.2, -77.85, 5e-324, -0.0],
    "site longitude": [0, 180, -180, -180.001, 166.67],
    "site timezone": ["UTC", "Pacific/Auckland", "America/St_Johns", "posix/UTC", "Europe/Nowhere", "Etc/GMT+12", ""],
    "site floor_lx": [0.15, 1e-5, 0, 100, 101],
    "when": [
        {},
        {"every": "day", "start": "sunset", "duration": "1h"},
        {"date": "2026-12-24", "start": "noon", "frames": 9},
        {"windows": _SPANS[:2]},
        {"windows": _SPANS[:3], "every": "day"},
        {"windows": [*_SPANS[:1], *_SPANS[3:5]], "every": ["mon", "tue"], "from": "2026-12-01"},
        *({"windows": [span], "every": "day"} for span in _SPANS[5:]),
    ],
    "when start": _TIMES,
    "when stop": [*_TIMES, LEFT_OUT],
    "when duration": [*_LENGTHS, LEFT_OUT],
    "when frames": [1, 900, 900.0, 10_000_000, 0, 1.5, LEFT_OUT],
    "when windows": [
        _SPANS[:1],
        _SPANS[:2],
        _SPANS[1:3],
        _SPANS[3:5],
        _SPANS[5:6],
        _SPANS[6:7],
        _SPANS[7:8],
        [],
        _SPANS[:1] * 25,
    ],
    "when date": ["2026-12-24", "2026-02-30", "1999-12-31", LEFT_OUT],
    "when every": ["day", ["mon"], ["mon", "thu"], ["sun", "sun"], [], LEFT_OUT],
    "when from": ["2026-12-01", "2100-12-31", LEFT_OUT],
    "when until": ["2026-12-02", "2027-12-31", "2026-11-30", LEFT_OUT],
    "when skip": [["2026-12-25"], [], ["2026-12-01", "2026-12-02"], ["2026-12-32"]],
    "pace": [
        {"kind": "steady", "interval_s": 5},
        {"kind": "timed", "from_s": 2, "to_s": 60},
        {"kind": "timed", "from_s": 2, "to_s": 60, "over": "2h"},
        {"kind": "pulse", "min_interval_s": 5},
        {"kind": "sun", "points": [[2, 5.0], [-6, 9.0]]},
        {"kind": "light", "points": [[11, 4.0], [-6, 25.0]]},
    ],
    "pace interval_s": [0.06, 86400, 86401, 0],
    "pace over": [*_LENGTHS, LEFT_OUT],
    "pace points": [[[0, 30]], [[1, 2], [1, 3]], [[90, 1], [-90, 86400]], [[25, 7], [0, 7]], [], [[1]]],
    "pace min_gap_s": [0.05, 0.01, 3600, 5],
    "pace max_change": [1, 1e-4, 0, 0.5],
    "pace stretch_to_s": [40, 86400, 0.1, LEFT_OUT],
    "light": [
        {"kind": "fixed", "shutter_s": 0.01, "aperture": 8, "iso": 100},
        {"kind": "follow", "aperture": 8},
        {"kind": "follow", "aperture": [2.8, 8], "iso": [100, 6400], "shutter_s": [0.001, 10]},
    ],
    "light shutter_s": [[0.001, 20], 30, 3600, [8, 2], 1e-9, [1, 2, 3], "1/250"],
    "light aperture": [2.8, [1.4, 16], 0, 513, [8, 4]],
    "light iso": [100, [100, 10_000_000], [50, 1e8], 0.5],
    "light order": [["shutter", "iso"], ["iso"], ["iso", "iso"], [], ["speed"], LEFT_OUT],
    "light bias_ev": [0, 10, -11],
    "light brightness": [[[0, 0], [-12, -1.2]], [[0, 0], [0, 1]], [[0, 20]]],
    "light max_ev_per_min": [1.5, 0.01, 61],
    "light bracket_ev": [[-2, 0, 2], [0, 0], [1], [-6, 6], LEFT_OUT],
    "light bulb": [True, False, 1],
    "light learn_response": [True, "yes"],
    "light regions": [
        [],
        [{"rect": [0, 0, 1, 0.5]}],
        [{"rect": [0, 0, 1, 1]}],
        [{"rect": [0, 1, 1, 0]}],
        [{"weight": 2}],
    ],
    "files fetch": ["all", "preview", "none", "every 10", "every 0"],
    "clip fps": [25, 1, 240, 0.5],
    "clip daily": [True, False, 1, "yes"],
    "clip preview": [True, None],
    "optics": [{"focal_mm": 24}, {"focal_mm": 24, "sensor_mm": [36, 24], "pixel_um": 6}, {}, LEFT_OUT],
    "optics focal_mm": [0.5, 5000],
    "optics sensor_mm": [[36, 24], [101, 24], [2, 2]],
    "optics pixel_um": [0.5, 50, 5],
    "view": [{"azimuth_deg": 360}, {"azimuth_deg": 10, "altitude_deg": 91}, {"altitude_deg": 1}, LEFT_OUT],
    "power": [
        {"battery_wh": 150, "draw_w": 6.5},
        {"battery_wh": 0.1, "draw_w": 10_000},
        {"battery_wh": 0, "draw_w": 1},
        LEFT_OUT,
    ],
    "power temperature_c": [-8, -61],
}
_CHANGES = [(tuple(key.split()), value) for key, values in _VALUES.items() for value in values]


def change(document: Document, place: tuple[str, ...], value: Any) -> None:
    """Put a value at a place, or leave out what is there."""
    for table in place[:-1]:
        below = document.setdefault(table, {})
        if not isinstance(below, dict):
            return
        document = below
    if value is LEFT_OUT:
        document.pop(place[-1], None)
    else:
        document[place[-1]] = json.loads(json.dumps(value))


@st.composite
def document(draw: st.DrawFn) -> Document:
    """A likely document: an example with up to six of its values changed, some of them beyond what is allowed."""
    written: Document = json.loads(draw(st.sampled_from(BASES)))
    for place, value in draw(st.lists(st.sampled_from(_CHANGES), max_size=6)):
        change(written, place, value)
    return written


_SCALARS = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False, allow_infinity=False), st.text(max_size=12)
)
ODD = st.one_of(
    _SCALARS,
    st.lists(_SCALARS, max_size=3),
    st.lists(st.lists(st.floats(-100, 100), max_size=3), max_size=3),
    st.dictionaries(st.text(max_size=5), _SCALARS, max_size=2),
    st.sampled_from([*_TIMES, *_LENGTHS, "every 3", "day", "steady", "sunsett", "1/250", "57,7", "6:30 pm", "2 hours"]),
)


def places(written: Any, above: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Where there is something in a document, tables and lists included."""
    pairs = written.items() if isinstance(written, dict) else enumerate(written) if isinstance(written, list) else ()
    return [place for key, value in pairs for place in ((*above, key), *places(value, (*above, key)))]


@st.composite
def broken(draw: st.DrawFn) -> Document:
    """A likely document with one or two things in it that make no sense at all."""
    written = draw(document())
    for _ in range(draw(st.integers(1, 2))):
        *above, last = draw(st.sampled_from(places(written)))
        there: Any = written
        for part in above:
            there = there[part]
        match draw(st.integers(0, 3)):
            case 0:
                there[last] = draw(ODD)
            case 1:
                del there[last]
            case 2:
                there[last] = [there[last]]
            case _ if isinstance(there, dict):
                there[draw(st.text(max_size=8)) if draw(st.booleans()) else f"{last}s"] = there.pop(last)
        if not written:
            break
    return written
