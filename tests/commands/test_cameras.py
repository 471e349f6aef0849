"""`duskhand cameras` in words."""

from __future__ import annotations

import pytest

from controller.camera.choices import told
from controller.camera.messages import SettingShown
from controller.commands.cameras import render
from controller.words.documents import CameraNow

CAMERA = CameraNow(id="camera-1", model="Camera One", address="usb:", connected=True)


def shown(value: str) -> str:
    """The line of a body's file format."""
    format_now = told(SettingShown(setting="format", control="imageformat", value=value, choices=[], writable=True))
    (line,) = [line for line in render(CAMERA, [format_now], None).splitlines() if "format" in line]
    return line


@pytest.mark.parametrize(("value", "code"), [("Unknown value 0001", "0001"), ("0x00ff", "00ff")])
def test_a_code_of_the_body_s_own_is_no_name(value: str, code: str) -> None:
    """As libgphoto2 gives what it has no word for (from memory; tests/decide/checks has more)."""
    line = shown(value)
    assert f"not known by name (the body says {code})" in line
    assert "camera's own screen" in line
    assert "Unknown value" not in line


@pytest.mark.parametrize("value", ["RAW + Large Fine JPEG", "NEF (Raw)", "Unknown-looking"])
def test_a_name_is_shown_as_it_is(value: str) -> None:
    assert value in shown(value)


def test_nothing_is_told_as_that() -> None:
    assert "not told" in shown("")
