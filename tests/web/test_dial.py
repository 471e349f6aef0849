"""Settings on the phone are the dial's labels, as on the first screen and in the rig's own texts."""

from __future__ import annotations

import json
from typing import Any

import pytest

from controller.words.stops import aperture_label, iso_label, shutter_time
from tests.web.conftest import Phone
from tests.web.screens import SCREENS

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

TIMES = [*(2 ** (third / 3) for third in range(-45, 16)), 1 / 73, 0.0005, 0.7, 1.5, 18.0, 40.0]
NUMBERS = [*(2 ** (sixth / 6) for sixth in range(37)), 0.95, 1.7, 3.3, 4.2]
SPEEDS = [*(100 * 2 ** (third / 3) for third in range(-6, 37)), 137.0, 1234.0]
"""On a dial of thirds and beside it: true values, as the log has them."""


async def test_what_a_dial_says_is_what_the_rig_says(phone: Phone) -> None:
    await SCREENS["rig"](phone)
    told = await phone.page.evaluate(
        "async (of) => { const say = await import('/js/figures.js');"
        " return [of[0].map(say.shutter), of[1].map(say.fNumber), of[2].map((v) => `ISO ${say.isoSpeed(v)}`)]; }",
        [TIMES, NUMBERS, SPEEDS],
    )
    own = [list(map(shutter_time, TIMES)), list(map(aperture_label, NUMBERS)), list(map(iso_label, SPEEDS))]
    assert [[text.replace(",", "") for text in texts] for texts in told] == own


async def test_a_frame_of_the_list_reads_as_on_the_first_screen(phone: Phone) -> None:
    """1/64 s, f/2.83 and ISO 126 of the log are 1/60 s, f/2.8 and ISO 125."""
    await SCREENS["rig"](phone)
    frame: dict[str, Any] = {"shutter_s": 1 / 64, "aperture": 8**0.5, "iso": 100 * 2 ** (1 / 3)}
    told = await phone.page.evaluate(
        "async (f) => { const say = await import('/js/words.js'), of = [f.shutter_s, f.aperture, f.iso];"
        " const marks = Object.entries(say.change.values).map(([name, text]) => text(f[name]));"
        " return [say.frames.exposure(...of), say.camera.test.of(...of), marks]; }",
        frame,
    )
    assert told == ["1/60 s, f/2.8, ISO 125", "1/60 s, f/2.8, ISO 125", ["1/60 s", "125", "f/2.8"]], json.dumps(told)
