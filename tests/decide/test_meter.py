"""Metering against the sRGB standard, and what becomes of broken pictures."""

from __future__ import annotations

import io
import math
import struct
import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from controller.decide.meter import SRGB, Curve, MeterError, Region, meter, scene_ev
from controller.decide.picture import read_picture


def jpeg(codes: np.ndarray, **options) -> bytes:
    out = io.BytesIO()
    mode = options.pop("mode", "RGB")
    Image.fromarray(codes.astype(np.uint8)).convert(mode).save(out, "JPEG", quality=95, subsampling=0, **options)
    return out.getvalue()


def flat(code: int, size: tuple[int, int] = (120, 160)) -> np.ndarray:
    return np.full((*size, 3), code)


@pytest.mark.parametrize(
    ("code", "linear"),
    [
        (0, 0.0),
        (1, 0.00030353),
        (10, 0.00303527),
        (11, 0.00334654),
        (50, 0.03189603),
        (100, 0.12743768),
        (118, 0.18116424),
        (128, 0.2158605),
        (186, 0.49102085),
        (200, 0.57758044),
        (254, 0.9911021),
        (255, 1.0),
    ],
)
def test_decoding_of_srgb(code, linear):
    """IEC 61966-2-1, worked out independently."""
    assert SRGB.linear[code] == pytest.approx(linear, abs=1e-6)
    assert meter(jpeg(flat(code))).level == pytest.approx(linear, rel=0.01, abs=1e-5)


@pytest.mark.parametrize(("code", "ev"), [(118, 0.0261), (20, 0.1003)])
def test_what_one_code_is_worth(code, ev):
    """EV per code of sRGB: arithmetic."""
    worth = scene_ev(meter(jpeg(flat(code + 1))), 0.0) - scene_ev(meter(jpeg(flat(code))), 0.0)
    assert worth == pytest.approx(ev, rel=0.06)


@pytest.mark.parametrize(("channel", "weight"), [(0, 0.2126), (1, 0.7152), (2, 0.0722)])
def test_luminance_weights(channel, weight):
    """ITU-R BT.709, of the primaries that sRGB shares."""
    codes = flat(0)
    codes[..., channel] = 255
    assert meter(jpeg(codes)).level == pytest.approx(weight, rel=0.02)


def test_mid_grey_needs_no_correction_and_white_is_two_and_a_half_stops_above():
    """Mid grey is code 118 (ISO 12232, CIPA DC-004); white lies 2.46 EV above it: arithmetic."""
    assert scene_ev(meter(jpeg(flat(118))), 12.0) == pytest.approx(12.0, abs=0.01)
    assert scene_ev(meter(jpeg(flat(255))), 12.0) == pytest.approx(14.46, abs=0.01)


def test_light_is_averaged_not_codes():
    half = flat(0)
    half[60:] = 188  # linear 0.503
    assert meter(jpeg(half)).level == pytest.approx(0.2515, rel=0.01)


def test_shares_of_clipped_and_black():
    codes = flat(120)
    codes[:30] = 255
    codes[90:] = 0
    reading = meter(jpeg(codes))
    assert reading.clipped == pytest.approx(0.25, abs=0.01)
    assert reading.black == pytest.approx(0.25, abs=0.01)
    assert (reading.width, reading.height) == (160, 120)


def test_a_headlight_does_not_move_a_night():
    """A light over 1.5 % of the frame, as a passing car throws: a plain mean would be moved by 0.6 EV: arithmetic."""
    rng = np.random.default_rng(3)
    night = np.clip(flat(55) + rng.normal(0, 8, (120, 160, 1)), 0, 255)
    lit = night.copy()
    lit[70:82, 100:124] = 255
    plain = [float(SRGB.linear[codes.astype(np.uint8)].mean()) for codes in (night, lit)]
    assert math.log2(plain[1] / plain[0]) > 0.4
    moved = scene_ev(meter(jpeg(lit)), 0.0) - scene_ev(meter(jpeg(night)), 0.0)
    assert abs(moved) < 0.1


def test_another_curve_counts_as_it_is():
    gamma = Curve(((np.arange(256) / 255) ** 2.2).astype(np.float32))
    reading = meter(jpeg(flat(118)), gamma)
    assert reading.level == pytest.approx((118 / 255) ** 2.2, rel=0.01)
    assert scene_ev(reading, 5.0) == pytest.approx(5.0, abs=0.02)


PICTURE = np.clip(np.linspace(20, 220, 120)[:, None, None] * np.ones((1, 160, 3)), 0, 255)


@pytest.mark.parametrize("options", [{"mode": "L"}, {"mode": "CMYK"}, {"progressive": True}, {"optimize": True}])
def test_every_kind_of_jpeg(options):
    plain = meter(jpeg(PICTURE)).level
    assert meter(jpeg(PICTURE, **options)).level == pytest.approx(plain, rel=0.02)


def test_a_large_picture_gives_the_same_at_a_fraction_of_the_pixels():
    large = np.repeat(np.repeat(PICTURE, 12, axis=0), 12, axis=1)
    reading = meter(jpeg(large))
    assert reading.width < 600
    assert reading.level == pytest.approx(meter(jpeg(PICTURE)).level, rel=0.01)


GOOD = jpeg(PICTURE)


@pytest.mark.parametrize(
    "broken",
    [b"", b"\xff\xd8", b"GIF89a" + GOOD, GOOD[:200], GOOD[: len(GOOD) // 2], bytes(4096), GOOD[:-400]],
    ids=["empty", "start-only", "another-format", "header-only", "half", "zeros", "end-missing"],
)
def test_broken_pictures_raise_one_typed_error(broken):
    with pytest.raises(MeterError) as refusal:
        meter(broken)
    assert refusal.value.code == ("bad-picture" if broken else "no-picture")


@pytest.mark.parametrize(
    ("options", "marker", "size"),
    [({}, b"\xff\xc0", (65535, 65535)), ({"progressive": True}, b"\xff\xc2", (9000, 9000))],
    ids=["baseline", "progressive"],
)
def test_a_size_that_no_camera_has_is_refused_before_it_is_decoded(options, marker, size):
    good = jpeg(PICTURE, **options)
    at = good.index(marker) + 5  # frame header, ITU-T T.81: marker, length, precision, lines, samples a line
    bomb = good[:at] + struct.pack(">HH", *size) + good[at + 4 :]
    tracemalloc.start()
    with pytest.raises(MeterError, match=r"more than any camera|do not fit") as refusal:
        meter(bomb)
    assert tracemalloc.get_traced_memory()[1] < 1_000_000
    tracemalloc.stop()
    assert refusal.value.code == "huge-picture"
    assert refusal.value.remedy


@settings(max_examples=200, deadline=None)
@given(st.integers(0, len(GOOD) - 1), st.binary(min_size=1, max_size=8))
def test_damage_anywhere_gives_a_reading_or_the_typed_error(at, put):
    try:
        level = meter(GOOD[:at] + put + GOOD[at + len(put) :]).level
    except MeterError:
        return
    assert 0 <= level <= 1.000001
    assert math.isfinite(level)


# ---- bars: DCF thumbnails are 160 × 120, with a picture of another shape between black bars (CIPA DC-009)


def scene(height: int, width: int, *, top: float = 60, bottom: float = 200, noise: float = 10) -> np.ndarray:
    ramp = np.linspace(top, bottom, height)[:, None, None] * np.ones((1, width, 3))
    return np.clip(ramp + np.random.default_rng(5).normal(0, noise, (height, width, 1)), 0, 255)


def between_bars(picture: np.ndarray, height: int = 120, width: int = 160, quality: int = 85) -> bytes:
    whole = np.zeros((height, width, 3))
    y, x = (height - picture.shape[0]) // 2, (width - picture.shape[1]) // 2
    whole[y : y + picture.shape[0], x : x + picture.shape[1]] = picture
    out = io.BytesIO()
    Image.fromarray(whole.astype(np.uint8)).save(out, "JPEG", quality=quality)
    return out.getvalue()


def coloured(picture: np.ndarray) -> np.ndarray:
    """As an evening sky: colour rings further into a bar than light does, for JPEG halves its resolution."""
    return np.clip(picture * np.array([0.6, 0.85, 1.15]), 0, 255)


@pytest.mark.parametrize("quality", [60, 85, 95])
@pytest.mark.parametrize(
    ("size", "shape"), [((107, 160), 3 / 2), ((106, 160), 3 / 2), ((90, 160), 16 / 9), ((120, 120), 1.0)]
)
@pytest.mark.parametrize(("top", "bottom"), [(60, 200), (240, 20), (30, 12)])
def test_bars_do_not_count(size, shape, top, bottom, quality):
    picture = coloured(scene(*size, top=top, bottom=bottom, noise=4))
    with_bars, without = meter(between_bars(picture, quality=quality)), meter(jpeg(picture))
    assert with_bars.shape == pytest.approx(shape)
    assert scene_ev(with_bars, 0.0) == pytest.approx(scene_ev(without, 0.0), abs=0.05)
    assert with_bars.black <= without.black + 0.02


@pytest.mark.parametrize(
    "picture",
    [
        scene(120, 160),
        scene(120, 160, top=3, bottom=140, noise=2),
        np.zeros((120, 160, 3)),
        np.concatenate([np.zeros((20, 160, 3)), scene(80, 160), np.zeros((20, 160, 3))]),
    ],
    ids=["day", "dark-above", "black", "black-at-both-ends"],
)
def test_pictures_that_are_only_dark_keep_all_their_rows(picture):
    reading = meter(jpeg(picture))
    assert (reading.width, reading.height, reading.shape) == (160, 120, None)


def test_a_black_night_is_told_as_black():
    reading = meter(jpeg(flat(0)))
    assert (reading.black, reading.clipped) == (1.0, 0.0)
    assert math.isfinite(scene_ev(reading, -3.0))


def test_bars_of_a_known_shape_are_found_where_the_picture_is_black_beside_them():
    night = scene(107, 160, top=1, bottom=1, noise=0)
    night[40:60, 50:110] = 120
    assert meter(between_bars(night)).height == 120
    reading = meter(between_bars(night), shape=3 / 2)
    assert reading.height < 107
    lit = scene(120, 160)  # where there is light no bar can be, whatever was known
    assert meter(jpeg(lit), shape=3 / 2).height == 120


def test_a_lamp_in_a_row_tells_it_from_a_bar():
    night = scene(120, 160, top=1, bottom=1, noise=0)
    night[8:112] = 90
    night[2, 60:64] = 150
    night[117, 20:24] = 150
    assert meter(jpeg(night)).height == 120


# ---- regions


def test_a_region_without_weight_is_not_seen_at_all():
    codes = flat(100)
    codes[60:] = 255
    reading = meter(jpeg(codes), regions=[Region(0, 0.5, 1, 1, 0)])
    assert reading.level == pytest.approx(SRGB.linear[100], rel=0.01)
    assert (reading.clipped, meter(jpeg(codes)).clipped) == (0.0, 0.5)


def test_weights_are_those_of_a_weighted_mean():
    codes = flat(100)
    codes[:, 80:] = 180
    reading = meter(jpeg(codes), regions=[Region(0, 0, 0.5, 1, 3)])
    assert reading.level == pytest.approx((3 * SRGB.linear[100] + SRGB.linear[180]) / 4, rel=0.01)


def test_the_last_region_is_right_where_they_overlap():
    codes = flat(180)
    codes[30:60, 40:80] = 60
    only = [Region(0, 0, 1, 1, 0), Region(0.25, 0.25, 0.5, 0.5, 1)]
    assert meter(jpeg(codes), regions=only).level == pytest.approx(SRGB.linear[60], rel=0.02)


def test_regions_are_parts_of_the_picture_not_of_its_bars():
    picture = scene(107, 160, top=100, bottom=100, noise=0)
    picture[:54] = 200
    reading = meter(between_bars(picture), regions=[Region(0, 0, 1, 54 / 107, 0)])
    assert reading.level == pytest.approx(SRGB.linear[100], rel=0.03)


def test_a_picture_cut_short_is_none_though_it_ends_as_one_should():
    """What is missing is filled with grey by libjpeg, which would be metered as light."""
    out = io.BytesIO()
    Image.fromarray(np.random.default_rng(3).integers(0, 30, (120, 160, 3), dtype=np.uint8)).save(out, "JPEG")
    whole = out.getvalue()
    read_picture(whole)
    cut = whole[: int(len(whole) * 0.4)].rstrip(b"\xff") + b"\xff\xd9"
    with pytest.raises(MeterError, match="ends before") as refusal:
        read_picture(cut)
    assert refusal.value.code == "bad-picture"


def test_a_picture_that_claims_more_than_its_bytes_can_hold():
    """A frame header of 20000 × 19999 pixels (ITU-T T.81, B.2.2) on the data of a small picture."""
    out = io.BytesIO()
    Image.new("L", (64, 64), 40).save(out, "JPEG")
    jpeg = bytearray(out.getvalue())
    at = jpeg.index(b"\xff\xc0") + 5
    jpeg[at : at + 4] = (19999).to_bytes(2, "big") + (20000).to_bytes(2, "big")
    with pytest.raises(MeterError) as refusal:
        read_picture(bytes(jpeg))
    assert refusal.value.code == "huge-picture"


def test_a_picture_without_light_says_half_of_the_first_code():
    """Code 1 is 1/255/12.92 of white, code 118 mid grey (IEC 61966-2-1, ISO 12232); each code up to its middle."""
    mid = ((118 / 255 + 0.055) / 1.055) ** 2.4
    assert scene_ev(meter(jpeg(flat(0))), 10.0) == pytest.approx(10 + math.log2(1 / 255 / 12.92 / 2 / mid), abs=1e-4)


@pytest.mark.parametrize(("lamps", "counts"), [(9, False), (11, True)])
def test_the_brightest_twentieth_is_held_down_and_no_more(lamps, counts):
    """Of 12 × 16 blocks 9.6 are 5 %: so many lamps are a headlight, more of them are the scene (arithmetic)."""
    picture = flat(118).copy()
    for block in range(lamps):
        picture[:10, 10 * block : 10 * block + 10] = 255
    share = lamps / 192 if counts else 0.0
    expected = SRGB.mid * (1 - share) + share
    assert meter(jpeg(picture)).level == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("size", [(1, 1), (1, 2), (3, 2), (13, 17), (120, 160)])
def test_a_picture_of_any_size_that_is_all_one_code_is_as_light_as_that(size):
    assert meter(jpeg(flat(118, size), mode="L")).level == pytest.approx(SRGB.linear[118], rel=1e-4)


def test_where_regions_leave_nothing_all_counts():
    reading = meter(jpeg(PICTURE), regions=[Region(0, 0, 1, 1, 0)])
    assert reading.level == pytest.approx(meter(jpeg(PICTURE)).level)
    assert (reading.clipped, reading.black) == (0.0, 0.0)
