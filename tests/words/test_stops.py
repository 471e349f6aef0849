"""Camera texts, true stops and exposure values against published figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.words import stops


@pytest.mark.parametrize(
    ("text", "nominal_s"),
    [
        ("1/125", 1 / 125),
        ("1/125.0", 1 / 125),
        ("1/100", 0.01),
        ("10/13", 10 / 13),
        ("300/10", 30),
        ("0.0080s", 0.008),
        ("0,0040s", 0.004),
        ("0.0001s", 1 / 8000),
        ("0,0001s", 1 / 8000),
        ("0.8s", 0.8),
        ("30s", 30),
        ('0"3', 0.3),
        ('10" (1/3)', 10),
        ("15m", 900),
        ("10.3", 10.3),
        (" 1/60 ", 1 / 60),
    ],
)
def test_shutter_texts_that_bodies_report(text, nominal_s):
    """Forms as libgphoto2 prints them for bodies of six makers (libgphoto2's source and its traces)."""
    assert stops.parse_shutter(text) == pytest.approx(nominal_s, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    "65535/65535|65535/65533|429496.7295s|429496,7295s|Bulb|bulb|Time|auto|(null)|Unknown value 00ff|x 200||1/0|-1|0|"
    "Composite|4294967295|nan|inf|1e3|64000000".split("|"),
)
def test_shutter_texts_that_name_no_time(text):
    assert stops.parse_shutter(text) is None


@pytest.mark.parametrize(("text", "nominal"), [("f/5.6", 5.6), ("f/6,3", 6.3), ("5.6", 5.6), ("F/2", 2), ("f/1", 1)])
def test_aperture_texts(text, nominal):
    assert stops.parse_aperture(text) == nominal


@pytest.mark.parametrize("text", ["auto", "implicit auto", "Unknown value 00ff", "", "f/0", "(null)", "f/655.35"])
def test_aperture_texts_that_name_none(text):
    assert stops.parse_aperture(text) is None


@pytest.mark.parametrize(("text", "nominal"), [("100", 100), ("ISO 3200", 3200), ("102400", 102400)])
def test_iso_texts(text, nominal):
    assert stops.parse_iso(text) == nominal


@pytest.mark.parametrize(
    "text", ["Auto", "-1", "Low", "65535", "100 Multi Frame Noise Reduction", "", "Auto ISO", "Unknown value 0003"]
)
def test_iso_texts_that_name_none(text):
    assert stops.parse_iso(text) is None


@pytest.mark.parametrize(
    ("nominal", "true_s"),
    [
        ("30", 32),
        ("25", 25.398417),
        ("20", 20.158737),
        ("15", 16),
        ("13", 12.699208),
        ("10", 10.079368),
        ("8", 8),
        ("6", 6.349604),
        ("1/15", 0.0625),
        ("1/30", 0.03125),
        ("1/60", 0.015625),
        ("1/125", 0.0078125),
        ("1/4000", 0.000244140625),
        ("10.3", 10.079368),
        ("0.0062s", 2 ** (-22 / 3)),
        ("10/13", 2 ** (-1 / 3)),
    ],
)
def test_true_shutter(nominal, true_s):
    """Powers of 2^(1/3): arithmetic."""
    parsed = stops.parse_shutter(nominal)
    assert parsed is not None
    assert stops.true_shutter(parsed) == pytest.approx(true_s, abs=1e-6)


@pytest.mark.parametrize(
    ("nominal", "true"),
    [
        (1.2, 1.2599),
        (1.4, 1.4142),
        (1.8, 1.7818),
        (2.8, 2.8284),
        (3.5, 3.5636),
        (5.6, 5.6569),
        (11, 11.3137),
        (13, 12.6992),
        (22, 22.6274),
        (1.7, 2**0.75),  # halves
        (4.2, 4.2),  # a lens's own widest aperture, on no dial
    ],
)
def test_true_aperture(nominal, true):
    """Powers of 2^(1/6): arithmetic."""
    assert stops.true_aperture(nominal) == pytest.approx(true, abs=5e-5)


@pytest.mark.parametrize(
    ("nominal", "true"), [(100, 100), (125, 125.99), (160, 158.74), (12800, 12800), (53249, 53249)]
)
def test_true_iso(nominal, true):
    """Thirds of a stop from ISO 100 (Exif 2.32 Annex C, the rounding of speeds): arithmetic."""
    assert stops.true_iso(nominal) == pytest.approx(true, abs=0.01)


FAST_THIRDS = (
    "1/4 1/5 1/6 1/8 1/10 1/13 1/15 1/20 1/25 1/30 1/40 1/50 1/60 1/80 1/100 1/125 1/160 1/200 1/250 1/320 1/400 1/500 "
    "1/640 1/800 1/1000 1/1250 1/1600 1/2000 1/2500 1/3200 1/4000 1/5000 1/6400 1/8000"
)
FAST_HALVES = (
    "1/4 1/6 1/8 1/10 1/15 1/20 1/30 1/45 1/60 1/90 1/125 1/180 1/250 1/350 1/500 1/750 1/1000 1/1500 1/2000 1/3000 "
    "1/4000 1/6000 1/8000"
)
DIALS = {  # as engraved or shown, from 32 s down; from memory
    "thirds with 3.2": (3, f"30 25 20 15 13 10 8 6 5 4 3.2 2.5 2 1.6 1.3 1 0.8 0.6 0.5 0.4 0.3 {FAST_THIRDS}"),
    "thirds with 3": (3, f"30 25 20 15 13 10 8 6 5 4 3 2.5 2 1.6 1.3 1 0.8 0.6 0.5 0.4 0.3 {FAST_THIRDS}"),
    "thirds in fractions": (
        3,
        f"30 25 20 15 13 10 8 6 5 4 3 25/10 2 16/10 13/10 1 10/13 10/16 1/2 10/25 1/3 {FAST_THIRDS}",
    ),
    "thirds with 1/3": (
        3,
        f"30 25 20 15 13 10 8 6 5 4 3.2 2.5 2 1.6 1.3 1 0.8 0.6 0.5 0.4 1/3 {FAST_THIRDS}",
    ),
    "halves": (2, f"30 20 15 10 8 6 4 3 2 1.5 1 0.7 0.5 0.3 {FAST_HALVES}"),
    "halves with 1/3": (2, f"30 20 15 10 8 6 4 3 2 1.5 1 1/1.5 1/2 1/3 {FAST_HALVES}"),
}


@pytest.mark.parametrize("name", DIALS)
@pytest.mark.parametrize("order", [1, -1])
@pytest.mark.parametrize("first", [0, 5, 20])
def test_a_dial_steps_by_thirds_or_halves_throughout(name, order, first):
    """2^(n/3) and 2^(n/2) from 32 s down: arithmetic. Also where the body's list begins elsewhere or is the other way
    round."""
    steps, labels = DIALS[name][0], DIALS[name][1].split()
    nominal = [stops.parse_shutter(label) for label in labels][first:][::order]
    true = [2 ** (5 - place / steps) for place in range(len(labels))][first:][::order]
    assert stops.true_shutters(nominal) == pytest.approx(true, rel=1e-9)


def test_a_dial_of_both_has_the_halves_between():
    assert stops.true_shutters([4, 3.2, 3, 2.5, 2, 1.6, 1.5, 1.3, 1]) == pytest.approx(
        [2**n for n in (2, 5 / 3, 3 / 2, 4 / 3, 1, 2 / 3, 1 / 2, 1 / 3, 0)], rel=1e-9
    )


@pytest.mark.parametrize(
    ("shutter_s", "aperture", "iso", "ev"),
    [
        (0.01, 16, 100, 14.6439),  # EV = log2(N²/t), sunny 16 (ANSI PH2.7)
        (1 / 60, 1, 100, 5.9069),  # Tv of 1/60, APEX (ASA PH2.5-1960; Exif 2.32 Annex C)
        (1, 5.6, 100, 4.9709),  # Av of f/5.6, same
        (1, 1, 100, 0),
        (32, 2.8284271, 3200, -7),
    ],
)
def test_exposure_values(shutter_s, aperture, iso, ev):
    assert stops.exposure_ev(shutter_s, aperture, iso) == pytest.approx(ev, abs=1e-4)


def test_apex():
    """APEX (ASA PH2.5-1960; Exif 2.32, Annex C): Av + Tv = Bv + Sv; Sv of ISO 100 is 5, by Exif from memory."""
    assert stops.aperture_value(5.6) == pytest.approx(4.9709, abs=0.001)
    assert stops.time_value(1 / 60) == pytest.approx(5.9069, abs=0.001)
    assert stops.speed_value(100) == 5.0
    luminance = 4096.0  # of a scene in full sun: EV 15 at ISO 100 (ISO 2720, K = 12.5)
    for iso in (100, 800):
        brightness = math.log2(luminance * 100 / 12.5) - stops.speed_value(100)  # Bv
        exposure = brightness + stops.speed_value(iso)  # Av + Tv that suits it
        shutter_s = 8.0**2 / 2**exposure
        assert stops.aperture_value(8) + stops.time_value(shutter_s) == pytest.approx(exposure)
        assert stops.exposure_ev(shutter_s, 8, iso) == pytest.approx(15)


def test_labels():
    assert stops.shutter_label(1 / 128) == "1/125"
    assert stops.shutter_label(32) == "30 s"
    assert stops.shutter_label(2 ** (-5 / 3)) == "0.3 s"
    assert stops.shutter_label(17.3) == "17.3 s"
    assert stops.shutter_label(120) == "120 s"
    assert stops.exposure_label(1 / 128, 2**1.5, 400) == "1/125 s  f/2.8  ISO 400"
    assert stops.exposure_label(16, 2 ** (11 / 6), 125.99) == "15 s  f/3.5  ISO 125"


def test_every_third_stop_has_a_label_that_reads_back_to_itself():
    for step in range(-45, 16):
        true_s = 2.0 ** (step / 3)
        nominal_s = stops.parse_shutter(stops.shutter_label(true_s).replace(" s", "s"))
        assert nominal_s is not None
        assert stops.true_shutter(nominal_s) == pytest.approx(true_s, rel=1e-12)
        assert abs(math.log2(nominal_s / true_s)) <= 0.14


@given(st.text(max_size=24))
def test_no_text_breaks_the_parsers(text):
    for parse in (stops.parse_shutter, stops.parse_aperture, stops.parse_iso):
        value = parse(text)
        assert value is None or 0 < value < 1e8


@pytest.mark.parametrize(
    ("told_s", "true_s"),
    [
        ([1 / 60, 30, 0.3], [1 / 64, 32, 2 ** (-5 / 3)]),
        ([1 / 3, 1 / 1.6], [2 ** (-5 / 3), 2 ** (-2 / 3)]),
        ([1 / 64, 1 / 73, 217.5], [1 / 64, 1 / 73, 217.5]),  # exact, or of no dial
        ([1 / 45, 10, 20], [2**-5.5, 2**3.5, 2**4.5]),  # a dial of halves
        ([], []),
    ],
)
def test_times_as_pictures_tell_them(told_s, true_s):
    """Powers of 2^(1/3) and 2^(1/2): arithmetic."""
    assert stops.told_shutters(told_s) == pytest.approx(true_s, rel=1e-9)
