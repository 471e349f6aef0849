"""Slips of people who know cameras and write a plan for the first time: each is told what to write.

What TOML asks for is that of TOML v1.0.0; the azimuths are the sixteen points of the compass, 22.5° apart; charge times
voltage is energy; sizes of sensors: ISO 1007 (135 film), the Four Thirds standard; others are common practice, no
source.
"""

from __future__ import annotations

import re
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decide import plan_figures
from controller.decide.plan import plan_from, read_plan
from controller.decide.plan_figures import figure
from controller.decide.plan_meant import azimuth, decimal_commas
from controller.decide.zone_hints import nearest
from controller.words.errors import BadInput
from controller.words.phrases import nth
from tests.decide import PLANS

QUAY = (PLANS[0].parent / "quay_at_dusk.toml").read_text("utf-8")
_PACE = 'kind = "sun"\npoints = [[2, 5.0], [-6, 9.0], [-14, 22.0]]'
_CLIP = "[clip]"


def steady(interval: str) -> tuple[str, str]:
    return _PACE, f'kind = "steady"\ninterval_s = {interval}'


def table(text: str) -> tuple[str, str]:
    return _CLIP, f"{text}\n{_CLIP}"


def start(text: str) -> tuple[str, str]:
    return '"sunset-45min"', text


def stop(text: str) -> tuple[str, str]:
    return '"nautical_dusk+30min"', text


def light(key: str, value: str) -> tuple[str, str]:
    written = {"shutter_s": "[0.0005, 18.0]", "aperture": "[2.8, 2.8]", "iso": "[100, 3200]"}[key]
    return f"{key} = {written}", f"{key} = {value}"


OPTICS = "[optics]\nfocal_mm = "
VIEW = "[view]\nazimuth_deg = "
POWER = "[power]\ndraw_w = 6\n"

SLIPS = [
    (steady('"2min"'), "Write 120: seconds, without quotes"),
    (steady('"2 min"'), "Write 120: seconds, without quotes"),
    (steady('"1h30min"'), "Write 5400: seconds, without quotes"),
    (steady('"500 ms"'), "Write 0.5: seconds, without quotes"),
    (steady('"500 milliseconds"'), "Write 0.5: seconds, without quotes"),
    (steady('"2 m"'), "Write 120: seconds, without quotes"),
    (steady('"2 minutes"'), "Write 120: seconds, without quotes"),
    (steady('"90 secs"'), "Write 90, without quotes"),
    (steady('"90 seconds"'), "Write 90, without quotes"),
    (steady('"2 hrs"'), "Write 7200: seconds, without quotes"),
    (steady('"2 h"'), "Write 7200: seconds, without quotes"),
    (steady('"1 hour"'), "Write 3600: seconds, without quotes"),
    (steady('"8s"'), "Write 8, without quotes"),
    (steady('"8 W"'), "Write a number, without quotes"),
    ((_PACE, _PACE.replace("9.0", '"1min"')), "Write 60: seconds, without quotes"),
    (light("shutter_s", '["1/2000", "2min"]'), "Write 0.0005, without quotes"),
    (light("shutter_s", '[0.1, "2 min"]'), "Write 120: seconds, without quotes"),
    (light("shutter_s", '"1/2000-15 s"'), "Write [0.0005, 15]"),
    (light("iso", '"100-3200"'), "Write [100, 3200]"),
    (light("iso", '"100 – 3200"'), "Write [100, 3200]"),
    (light("aperture", '"f/2.8 to f/8"'), "Write [2.8, 8]"),
    (light("aperture", '"f2.8"'), "Write 2.8, without quotes"),
    (light("aperture", "[2,8, 8,0]"), "Decimal comma? Write [2.8, 8.0]"),
    ((_PACE, _PACE.replace("[2, 5.0]", "[2, 5,0]")), "Decimal comma? Write [2, 5.0]"),
    (
        table(POWER + "battery_mah = 10000"),
        "battery_wh is energy: mAh × V / 1000, so that 10000 mAh of 3.7 V cells are",
    ),
    (
        table(POWER + "battery_ah = 7"),
        "battery_wh is energy: Ah × V, so that 7 Ah of 3.7 V cells are battery_wh = 25.9",
    ),
    (table(POWER + 'capacity_mah = "10000"'), "battery_wh is energy: mAh × V / 1000"),
    (table(POWER + 'battery_wh = "0.5 kWh"'), "Write 500: watt hours, without quotes"),
    (table(POWER + 'battery_wh = "10000 mAh"'), "Write a number, without quotes"),
    (table(POWER + 'battery_wh = 100\ntemperature_c = "-5°C"'), "Write -5, without quotes"),
    (table(POWER + 'battery_wh = 100\ntemperature_c = "−5 °C"'), "Write -5, without quotes"),
    (table(POWER + 'battery_wh = 100\ntemperature_c = "23 °F"'), "Write -5: degrees Celsius, without quotes"),
    (table("[lens]\nfocal_mm = 24"), "Did you mean optics?"),
    (table(OPTICS + "[24, 105]"), "Write one number: what the zoom is set to, such as 35"),
    (table(OPTICS + '"24-105"'), "Write one number: what the zoom is set to, such as 35"),
    (table(OPTICS + '"24–105 mm"'), "Write one number: what the zoom is set to, such as 35"),
    (table(OPTICS + '24\nsensor = "APS-C"'), "Write sensor_mm = [23.5, 15.6]"),
    (table(OPTICS + '24\nsensor = "full frame"'), "Write sensor_mm = [36, 24]"),
    (table(OPTICS + '24\nsensor_mm = "Full-frame"'), "Write sensor_mm = [36, 24]"),
    (table(OPTICS + '24\nsensor_mm = "Micro Four Thirds"'), "Write sensor_mm = [17.3, 13.0]"),
    (table(OPTICS + '24\nsensor_mm = "36x24 mm"'), "Write sensor_mm = [36, 24]"),
    (table(OPTICS + '24\nsensor_mm = "big"'), "[36, 24] is full frame, [23.5, 15.6] APS-C"),
    (table(OPTICS + '24\nsensor = "big"'), "[36, 24] is full frame, [23.5, 15.6] APS-C"),
    (table(OPTICS + "24\nsensor_mm = [23,5, 15,6]"), "Decimal comma? Write [23.5, 15.6]"),
    (table(VIEW + '"SW"'), "Write 225, without quotes"),
    (table(VIEW + '"west-north-west"'), "Write 292.5, without quotes"),
    (table(VIEW + '"240°"'), "Write 240, without quotes"),
    (table(VIEW + "240\nelevation = 10"), "Did you mean altitude_deg?"),
    ((_LIGHT := 'kind = "follow"', f'{_LIGHT}\nbulb = "yes"'), "Write true or false, without quotes"),
    (stop('"05:00 next day"'), "Write 05:00: it is the first 05:00 after the start, the next day's too"),
    (stop('"5:00 (tomorrow morning)"'), "Write 05:00: it is the first"),
    (stop('"05:00 +1d"'), "Write 05:00: it is the first"),
    (stop('"no"'), "Did you mean noon?"),
    (stop('"golden_hour"'), "golden light is the sun at 6° to −0.8°: try"),
    (start('"golden_hour"'), "try sunrise, or sunset-45min"),
    (start('"Blue hour"'), "Blue light is the sun at −4° to −8°: try civil_dawn-10min, or sunset+15min"),
    (start('"golden_hour-10min"'), "sunset-45min"),
    (("Europe/Stockholm", "Cape"), "near that place are Europe/Copenhagen, Europe/Oslo"),
]


@pytest.mark.parametrize(("change", "remedy"), SLIPS)
def test_what_to_write_instead(change: tuple[str, str], remedy: str) -> None:
    error = refused(change)
    assert re.search(re.escape(remedy), error.remedy, re.I), str(error)
    assert "Did you mean files" not in error.remedy
    assert error.where.startswith("line ")


NOT_TOML = [
    (start("18:00"), 'Write start = "18:00"'),
    (start("6:30"), 'Write start = "06:30"'),
    (start("2026-12-01 18:00"), 'Write start = "2026-12-01T18:00"'),
    (start("sunset-45min"), 'Write start = "sunset-45min"'),
    (stop("nautical_dusk\nevery = day"), 'Write stop = "nautical_dusk"'),
    (stop('"civil_dusk"\nevery = "day"\nfrom = 01.12.2026'), "Write from = 2026-12-01"),
    (stop('"civil_dusk"\nevery = "day"\nfrom = 2026-12-1'), "Write from = 2026-12-01"),
    (stop('"civil_dusk"\nevery = "day"\nfrom = 2026/12/1'), "Write from = 2026-12-01"),
    (stop('"civil_dusk"\nevery = "day"\nfrom = 12/01/2026'), "Write days as year, month, day, such as 2026-12-31"),
    (stop('"civil_dusk"\nevery = "day"\nskip = [24.12.2026, 1.1.2027]'), "Write skip = [2026-12-24, 2027-01-01]"),
    (light("shutter_s", "[1/1000, 15]"), "Write shutter_s = [0.001, 15]"),
    (light("shutter_s", "[1/1000,15]"), "Write shutter_s = [0.001,15]"),
    (light("shutter_s", "1/250 # fast"), "Write shutter_s = 0.004"),
    (light("iso", "100-3200"), "Write iso = [100, 3200]"),
    (light("aperture", "f/2.8"), "Write aperture = 2.8"),
    (("[light]", "[light"), "Write [light]"),
    (("[light]", "light]"), "Write [light]"),
    (("[light]", "[[light.regions]\nrect = [0, 0, 1, 1]\n[light]"), "Write [[light.regions]]"),
    (steady("5s"), "Write interval_s = 5: seconds"),
    (steady("2 min"), "Write interval_s = 120: seconds"),
    (table(OPTICS + "24mm"), "Write focal_mm = 24: millimetres"),
    (table(OPTICS + "24-105"), "Write one number: what the zoom is set to, such as 35"),
    (table(VIEW + "SW"), "Write azimuth_deg = 225"),
    (("latitude = 57.7", "latitude = 57,7"), "Write the decimal point: 57.7 in place of 57,7"),
    ((_LIGHT, f"{_LIGHT}\nbulb = yes"), "Write bulb = true"),
    ((_LIGHT, f"{_LIGHT}\nbulb = True"), "Write bulb = true"),
    (("order = [", "; as usual\norder = ["), "Begin comments with #"),
    (('["shutter", "iso"]', '["shutter", "iso"'), "A list is not closed"),
    (('"quay-at-dusk"', '"quay-at-dusk'), "A quote is not closed"),
]


@pytest.mark.parametrize(("change", "remedy"), NOT_TOML)
def test_slips_of_toml(change: tuple[str, str], remedy: str) -> None:
    error = refused(change)
    assert error.what.startswith("not TOML")
    assert error.remedy.startswith(remedy), str(error)
    if written := re.fullmatch(r"Write ([\w.]+ = .*?)(: [a-z ]+)?", error.remedy):
        assert tomllib.loads(written[1])


def test_a_slip_on_the_last_line_is_seen() -> None:
    with pytest.raises(BadInput) as refusal:
        read_plan(f"{QUAY.rstrip()}\ndaily = yes")
    assert refusal.value.remedy == "Write daily = true"


def refused(change: tuple[str, str]) -> BadInput:
    old, new = change
    assert QUAY.count(old) == 1
    with pytest.raises(BadInput) as refusal:
        read_plan(QUAY.replace(old, new))
    assert "\n" not in str(refusal.value)
    return refusal.value


def test_a_stop_is_offered_no_now() -> None:
    """A shoot cannot stop at now."""
    for wrong in ("5 o'clock", "nowe", "half past six", "noww-5min"):
        assert not re.search(r"\bnow\b", refused(stop(f'"{wrong}"')).remedy)
    assert re.search(r"\bnow\b", refused(start('"half past six"')).remedy)


def test_windows_that_overlap_are_called_by_their_number() -> None:
    windows = [
        {"start": "10:00", "duration": "1h"},
        {"start": "06:30", "duration": "2h"},
        {"start": "08:00", "frames": 9},
    ]
    plan = tomllib.loads(QUAY) | {"when": {"every": "day", "windows": windows}}
    with pytest.raises(BadInput, match="the third window begins while the second still lasts, on every day"):
        plan_from(plan)
    assert [nth(n) for n in (1, 12, 13, 21, 22, 23, 24)] == ["first", "twelfth", "13th", "21st", "22nd", "23rd", "24th"]


@given(
    st.text("0123456789.,:/-–+° fshminCFWkMGB−to", max_size=20), st.sampled_from(["interval_s", "temperature_c", "iso"])
)
def test_figures_and_ranges_are_toml(wrong: str, key: str) -> None:
    found = [figure(wrong, key), plan_figures.limits(wrong, key)]
    for written in (found[0] and found[0].text, found[1]):
        assert written is None or tomllib.loads(f"x = {written}")


def test_the_points_of_the_compass() -> None:
    told = [azimuth(point) for point in ("N", "ene", "East", "south east", "S", "south-south-west", "NNW", "up", "")]
    angles = [None if text is None else float(re.findall(r"[\d.]+", text)[0].rstrip(".")) for text in told]
    assert angles == [0, 67.5, 90, 135, 180, 202.5, 337.5, None, None]


def test_lists_that_decimal_commas_did_not_make() -> None:
    for other in ([1, 2], [1.5, 2.5, 3.5], [1, 2, 3, 4, 5], [1, 2, -3], [True, 1, 2.5], ["a", 1, 2.5], [1, 2.5, 3], []):
        assert decimal_commas(other) is None


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone"),
    [
        (-33.9, 18.4, "Africa/Johannesburg"),
        (57.7, 11.95, "Europe/Stockholm"),
        (21.3, -157.9, "Pacific/Honolulu"),
        (-18.1, 179.9, "Pacific/Fiji"),
        (-16.5, -179.9, "Pacific/Fiji"),
    ],
)
def test_zones_by_their_place(latitude: float, longitude: float, zone: str) -> None:
    """Cities on the map; Fiji lies on both sides of 180°."""
    assert zone in nearest(latitude, longitude)
