"""What log and report say of a change of light: in a photographer's words (common practice, no source)."""

from __future__ import annotations

from typing import Any

import pytest

from controller.decide.changes import lit, lit_told
from controller.decide.step import Adjust


@pytest.mark.parametrize(
    ("wanted", "told"),
    [
        ({"bias_ev": -0.7}, "light: bias −0.7 EV"),
        ({"bias_ev": 1 / 3}, "light: bias +0.33 EV"),
        ({"bias_ev": 0.0}, "light: no bias"),
        ({"iso": (100.0, 800.0)}, "light: ISO 100 to ISO 800"),
        ({"shutter_s": (1 / 2048, 16.0)}, "light: 1/2000 s to 15 s"),  # true values, as after a dial's labels
        ({"aperture": (2.828, 2.828)}, "light: f/2.8"),
        ({"bias_ev": 2.0, "iso": None, "aperture": (2.8, 8.0)}, "light: bias +2 EV, f/2.8 to f/8"),
    ],
)
def test_a_change_of_light(wanted: dict[str, Any], told: str) -> None:
    _, changes = lit(Adjust(), wanted)
    assert lit_told(changes) == told
