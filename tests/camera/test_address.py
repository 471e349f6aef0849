"""Addresses as people write them, and as libgphoto2 wants them."""

from __future__ import annotations

import pytest

from controller.camera.address import parse_address
from controller.words.errors import BadInput


@pytest.mark.parametrize(
    ("text", "port"),
    [
        ("usb:", "usb:"),
        ("usb:001,004", "usb:001,004"),
        # CIPA DC-005: port 15740 for both connections where nothing else is said
        ("ptpip:192.168.1.20", "ptpip:192.168.1.20:15740:15740"),
        ("ptpip:192.168.1.20:15740", "ptpip:192.168.1.20:15740:15740"),
        ("ptpip:127.0.0.1:5000", "ptpip:127.0.0.1:5000:5000"),
        (" ptpip:127.0.0.1:5000:5001 ", "ptpip:127.0.0.1:5000:5001"),
    ],
)
def test_addresses(text: str, port: str) -> None:
    assert parse_address(text) == port


@pytest.mark.parametrize(
    "text",
    (
        "|usb|usb:1|usb:001,004,1|ptpip:|ptpip:camera.local|ptpip:1.2.3|ptpip:1.2.3.4:0|ptpip:1.2.3.4:70000|"
        "ptpip:1.2.3.4:x|ptpip:1.2.3.4:1:2:3|serial:/dev/ttyS0|192.168.1.20"
    ).split("|"),
)
def test_what_is_no_address_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_address(text)
    assert caught.value.code == "bad-address"
    line = str(caught.value)
    assert "\n" not in line
    assert f"'{text}'" in line
    assert "Write it as" in line
