"""Where a camera is: a libgphoto2 port."""

from __future__ import annotations

import re
from ipaddress import AddressValueError, IPv4Address

from controller.words.errors import BadInput

_USB = re.compile(r"usb:(\d{3},\d{3})?")
_EVENT_PORT = 15740  # CIPA DC-005: both connections go there


def parse_address(text: str) -> str:
    """The address as libgphoto2 wants it: `usb:`, `usb:BUS,DEVICE` or `ptpip:IP:PORT:EVENTPORT`.

    Accepts `ptpip:IP` and `ptpip:IP:PORT` too. Raises BadInput.
    """
    kind, _, rest = text.strip().partition(":")
    if kind == "usb" and _USB.fullmatch(text.strip()):
        return text.strip()
    if kind == "ptpip":
        host, *ports = rest.split(":")
        try:
            IPv4Address(host)
        except AddressValueError:
            raise _bad(text, f"'{host}' is no numeric IPv4 address", "ptpip:192.168.1.20") from None
        if len(ports) > 2 or not all(port.isdecimal() and 0 < int(port) < 65536 for port in ports):
            raise _bad(text, "its ports are no numbers from 1 to 65535", "ptpip:192.168.1.20:15740")
        command = int(ports[0]) if ports else _EVENT_PORT
        # With one number the library would send the event connection to 15740 whatever the number says.
        return f"ptpip:{host}:{command}:{int(ports[1]) if len(ports) == 2 else command}"
    raise _bad(text, "it is no camera's address", "usb:, usb:001,004 or ptpip:192.168.1.20")


def _bad(text: str, what: str, example: str) -> BadInput:
    return BadInput("bad-address", what, where=f"camera address '{text}'", remedy=f"Write it as {example}")
