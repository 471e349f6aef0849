"""Check file_format: makers' spellings, typed from memory (common practice, no source)."""

from __future__ import annotations

import pytest

from controller.decide.checks.file_format import file_format
from controller.words.settings import Setting
from tests.decide.checks import camera


@pytest.mark.parametrize(
    ("value", "level"),
    [
        ("RAW + cL", "pass"),
        ("RAW + L", "pass"),
        ("mRAW + S1", "pass"),
        ("L", "pass"),  # libgphoto2 2.5.34 calls a Canon EOS's Large Fine JPEG so
        ("cM1", "pass"),
        ("S3", "pass"),
        ("NEF+Fine", "pass"),
        ("NEF+Basic", "pass"),
        ("RAW+JPEG", "pass"),
        ("RAW+JPEG (Std)", "pass"),
        ("Large Fine JPEG+RAW", "pass"),
        ("JPEG Fine", "pass"),
        ("Large Fine JPEG", "pass"),
        ("Extra Fine", "pass"),
        ("cRAW + Large Fine JPEG", "pass"),
        ("RAW", "warn"),
        ("NEF (Raw)", "warn"),
        ("cRAW", "warn"),
        ("mRAW", "warn"),
        ("sRAW", "warn"),
        ("TIFF (RGB)", "warn"),
        ("", "warn"),
        ("2", "warn"),
        ("Unknown value 0006", "warn"),
    ],
)
def test_spellings(value, level):
    found = file_format(camera(Setting.FORMAT, value), None)
    assert found is not None
    assert found.level == level
    assert (found.remedy is None) == (level == "pass")


def test_small_raw_is_raw():
    assert "RAW alone" in file_format(camera(Setting.FORMAT, "sRAW"), None).what


def test_what_mends_it_is_the_bodys_own_text():
    found = file_format(camera(Setting.FORMAT, "NEF (Raw)", *["JPEG Fine", "NEF (Raw)", "NEF+Fine"]), None)
    assert found is not None
    assert found.fix == {Setting.FORMAT: "NEF+Fine"}
    found = file_format(
        camera(Setting.FORMAT, "NEF (Raw)", *["JPEG Fine", "NEF (Raw)", "NEF+Fine"], writable=False), None
    )
    assert found is not None
    assert found.fix is None


def test_it_tells_the_bytes_of_a_frame():
    assert "34 MB a frame" in file_format(camera(Setting.FORMAT, "RAW", frame_bytes=34e6), None).what
