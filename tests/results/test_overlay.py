"""Lines burnt into a clip: what they say, and that nothing else of the picture changes."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pytest
from PIL import Image, ImageFont

from controller.results.clip import overlay
from tests.results.nights import row

STOCKHOLM = ZoneInfo("Europe/Stockholm")
BOTH = {"time", "sun"}
LINES = ["2026-12-01 16:05:09 CET", "sun -3.2°"]


@pytest.mark.parametrize(
    ("fields", "zone", "burn", "said"),
    [
        # 2026-12-01 15:05:09 UTC
        ({"released_utc": 1_796_137_509.4, "sun_altitude_deg": -3.24}, STOCKHOLM, BOTH, LINES),
        ({"released_utc": 1_796_137_509.4}, ZoneInfo("UTC"), {"time"}, ["2026-12-01 15:05:09 UTC"]),
        ({"due_utc": 1_796_137_509.4}, ZoneInfo("Asia/Kolkata"), {"time"}, ["2026-12-01 20:35:09 IST"]),
        # an hour before and after clocks go back, 2026-10-25 01:00 UTC: the zone's letters tell them apart
        ({"released_utc": 1_792_888_200.0}, STOCKHOLM, {"time"}, ["2026-10-25 02:30:00 CEST"]),
        ({"released_utc": 1_792_891_800.0}, STOCKHOLM, {"time"}, ["2026-10-25 02:30:00 CET"]),
        ({"sun_altitude_deg": 12.0}, STOCKHOLM, {"sun"}, ["sun 12.0°"]),
        ({"sun_altitude_deg": -0.04}, STOCKHOLM, {"sun"}, ["sun 0.0°"]),
        ({"sun_altitude_deg": -10.04}, STOCKHOLM, {"sun"}, ["sun -10.0°"]),
        ({}, STOCKHOLM, {"sun"}, []),
        ({"sun_altitude_deg": -3.2}, STOCKHOLM, set(), []),
    ],
)
def test_what_is_said(fields: dict[str, float], zone: ZoneInfo, burn: set[str], said: list[str]) -> None:
    """Moments by `date -u -d @SECONDS`, and by the zones' offsets."""
    assert overlay.lines(row(1, **fields), zone, burn) == said


def test_the_font_has_every_sign_that_is_written() -> None:
    """The font inside Pillow draws a box for a sign that it lacks, as it does for the proper minus."""
    font = ImageFont.load_default(24)
    lacking = bytes(font.getmask("\uffff"))
    for sign in "0123456789-:+.°sunABCDEFGHIJKLMNOPQRSTUVWXYZ":
        assert bytes(font.getmask(sign)) != lacking, sign


@pytest.mark.parametrize("level", [0, 60, 128, 200, 255])
@pytest.mark.parametrize("size", [(96, 64), (640, 426), (1620, 1080), (1080, 1620)])
def test_small_readable_and_within_the_safe_area(level: int, size: tuple[int, int]) -> None:
    """The inner 90 % of width and height are safe for titles: SMPTE ST 2046-1."""
    image = Image.new("RGB", size, (level,) * 3)
    overlay.burn(image, LINES)
    codes = np.asarray(image, int)
    changed = np.argwhere((codes != level).any(axis=2))
    (top, left), (bottom, right) = changed.min(axis=0), changed.max(axis=0)
    assert left >= 0.05 * size[0] - 1
    assert bottom <= 0.95 * size[1] + 1
    assert bottom > 0.85 * size[1]
    if size[0] > 600:  # a stamp of a picture has to give more room
        assert right <= 0.95 * size[0]
        assert bottom - top < 0.1 * size[1]
        # ink lies next to edge, 8 to 1 in luminance at least, whatever lies behind: the contrast that WCAG 2.2 asks
        # of text is 4.5 to 1
        assert codes[changed[:, 0], changed[:, 1]].max() >= 235
        assert codes[changed[:, 0], changed[:, 1]].min() <= 20
    rest = codes.copy()
    rest[top : bottom + 1, left : right + 1] = level
    assert (rest == level).all()


def test_codes_of_ten_bits_are_written_alike() -> None:
    image = Image.new("RGB", (640, 426), (128, 128, 128))
    overlay.burn(image, LINES)
    deep = np.full((426, 640, 3), 128 * 4, np.uint16)
    overlay.burn_codes(deep, LINES, 1020)
    assert np.abs(deep / 4 - np.asarray(image, float)).max() <= 1
    same = np.full((426, 640, 3), 128, np.uint8)
    overlay.burn_codes(same, LINES)
    assert np.array_equal(same, np.asarray(image))


def test_nothing_to_say_changes_nothing() -> None:
    image = Image.new("RGB", (96, 64), (7, 8, 9))
    overlay.burn(image, [])
    assert image.getcolors() == [(96 * 64, (7, 8, 9))]
