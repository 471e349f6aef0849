"""What a drawing of the report says in figures: true ones, none over another."""

from __future__ import annotations

import re
from zoneinfo import ZoneInfo

import pytest

from controller.results.report.brightness import Track
from controller.results.report.drawings import brightness
from tests.results.dusk import START


def texts(drawn: str) -> list[str]:
    return re.findall(r"<text[^>]*>([^<]*)</text>", drawn)


def test_what_hardly_moves_has_plain_figures_beside_it() -> None:
    """Spread over the whole height its last digits had '1e−13+2e−1' above them, over the names of the lines."""
    seconds = [START + 20.0 * place for place in range(60)]
    level = [0.2 + 1e-13 * (place % 3) for place in range(60)]
    said = texts(brightness(Track(seconds, level, level), [], ZoneInfo("Europe/Stockholm")))
    assert not [text for text in said if re.search(r"\de|\+", text)]
    marks = [float(text.replace("−", "-")) for text in said if re.fullmatch(r"−?\d+\.\d+", text)]
    assert min(marks) < 0.2 < max(marks)
    assert max(marks) - min(marks) <= 0.2


@pytest.mark.parametrize(
    ("hours", "below"),
    [
        (2.0, "2026-12-01, America/Argentina/Buenos_Aires"),
        (20.0, "2026-12-01 – 2026-12-02, America/Argentina/Buenos_Aires"),
    ],
)
def test_the_day_stands_in_one_line_with_the_zone(hours: float, below: str) -> None:
    """A day at the right end of the scale lay over a long zone's name."""
    seconds = [START + hours * 3600 * place / 200 for place in range(200)]
    level = [0.01 * place for place in range(200)]
    said = texts(brightness(Track(seconds, level, level), [], ZoneInfo("America/Argentina/Buenos_Aires")))
    assert below in said
    assert not [text for text in said if text != below and re.search(r"2026", text)]
