"""What a body that poses as a Canon EOS says of its settings: the maker's codes, and the events that carry them.

Codes and layouts: libgphoto2 2.5.34, camlibs/ptp2/ptp.h and ptp-pack.c; nothing here comes from a maker's documents.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import IntEnum

from controller.simulated.body import Body
from controller.simulated.card import STORAGE_ID, Entry
from controller.simulated.properties import JPEG, RAW_AND_JPEG, Program, Prop
from controller.simulated.ptp import Format
from controller.simulated.stops import APERTURE, BULB, ISO, SHUTTER_S


class Code(IntEnum):
    """Properties of the maker's own, which its bodies show in place of the standard's."""

    APERTURE = 0xD101
    SHUTTER = 0xD102
    ISO = 0xD103
    EXPOSURE_MODE = 0xD105
    DRIVE = 0xD106
    FOCUS = 0xD108
    WHITE_BALANCE = 0xD109
    STYLE = 0xD110
    BATTERY = 0xD111
    TIME = 0xD113
    AUTO_POWER_OFF = 0xD114
    SHOTS_LEFT = 0xD11B
    TARGET = 0xD11C
    FORMAT = 0xD120
    SERIAL = 0xD1AF
    VIEW = 0xD1B0


@dataclass(frozen=True)
class Setting:
    """What of the body a property shows; `codes` maps the maker's values to the body's where they differ."""

    prop: Prop
    codes: Mapping[int, int] = field(default_factory=dict)

    def theirs(self, value: int) -> int:
        return next((code for code, ours in self.codes.items() if ours == value), value)

    def ours(self, code: int) -> int:
        return self.codes.get(code, code)

    def choices(self, body: Body) -> list[int]:
        """The maker's values that it can be set to; none where any number will do."""
        form = body.specs[self.prop].form
        if not isinstance(form, tuple):
            return []
        return [code for code, ours in self.codes.items() if ours in form] or list(form)


def _stops(at_zero: int, stops: Mapping[int, float]) -> dict[int, int]:
    """The maker's codes count stops in eighths from `at_zero`, thirds of a stop being 3 and 5 of them."""
    codes = {}
    for value, stop in stops.items():
        whole, third = divmod(round(3 * stop), 3)
        codes[at_zero + 8 * whole + (0, 3, 5)[third]] = value
    return dict(sorted(codes.items()))


_ISO_AUTO = 0
SETTINGS = {
    Code.APERTURE: Setting(Prop.F_NUMBER, _stops(0x08, {c: 2 * math.log2(f) for c, f in APERTURE.items()})),
    Code.SHUTTER: Setting(
        Prop.EXPOSURE_TIME, {0x0C: BULB} | _stops(0x38, {c: -math.log2(s) for c, s in SHUTTER_S.items()})
    ),
    Code.ISO: Setting(Prop.EXPOSURE_INDEX, _stops(0x48, {c: math.log2(v / 100) for c, v in ISO.items()})),
    Code.EXPOSURE_MODE: Setting(
        Prop.EXPOSURE_PROGRAM,
        {0: Program.AUTOMATIC, 1: Program.SHUTTER_PRIORITY, 2: Program.APERTURE_PRIORITY, 3: Program.MANUAL},
    ),
    Code.DRIVE: Setting(Prop.STILL_CAPTURE_MODE),
    Code.FOCUS: Setting(Prop.FOCUS_MODE),
    Code.WHITE_BALANCE: Setting(Prop.WHITE_BALANCE, {0: 2, 1: 4, 3: 6}),  # automatic, daylight, tungsten
    Code.STYLE: Setting(Prop.CANON_STYLE),
    Code.AUTO_POWER_OFF: Setting(Prop.CANON_AUTO_POWER_OFF),
    Code.TARGET: Setting(Prop.CANON_TARGET),
    Code.FORMAT: Setting(Prop.COMPRESSION),
    Code.VIEW: Setting(Prop.CANON_VIEW),
}
#: Files of a frame: their count, and for each the length of its entry, kind (1 JPEG, 6 raw), size and compression.
_FORMATS = {
    JPEG: struct.pack("<5I", 1, 0x10, 1, 0, 3),
    RAW_AND_JPEG: struct.pack("<9I", 2, 0x10, 6, 0, 4, 0x10, 1, 0, 3),
}
_BATTERY = ((88, 2), (63, 4), (38, 1), (13, 5))  # from so many per cent on: full, three quarters, half, a quarter
_OBJECT_ADDED, _VALUE, _CHOICES = 0xC181, 0xC189, 0xC18A
_LISTED = 3  # the choices are an enumeration
END = struct.pack("<II", 8, 0)
"""After the last event."""


def codes_of(prop: Prop) -> list[Code]:
    """The properties that show one of the body's."""
    if prop is Prop.BATTERY_LEVEL:
        return [Code.BATTERY]
    return [code for code, setting in SETTINGS.items() if setting.prop is prop]


def value_event(body: Body, code: Code) -> bytes:
    """A property and its value."""
    return _event(_VALUE, struct.pack("<I", code) + _value(body, code))


def choices_event(body: Body, code: Code) -> bytes:
    """What a property can be set to; nothing for one that can not, or to any number."""
    values = SETTINGS[code].choices(body) if code in SETTINGS else []
    if not values:
        return b""
    if code is Code.ISO:
        values.insert(0, _ISO_AUTO)
    return _event(
        _CHOICES, struct.pack("<III", code, _LISTED, len(values)) + b"".join(_packed(code, v) for v in values)
    )


def object_event(entry: Entry, form: Format) -> bytes:
    """A file that has come to the card."""
    name = entry.path.name.encode() + b"\0"
    head = struct.pack("<IIHHIIII", entry.handle, STORAGE_ID, form, 0, 0, entry.size or 0, entry.parent, entry.handle)
    return _event(_OBJECT_ADDED, head + name + bytes(-len(name) % 4))


def take(body: Body, code: Code, data: bytes) -> None:
    """Set a property to what was sent; raises Refused, or struct.error where it is too short."""
    (value,) = struct.unpack_from("<I", data)
    if code is Code.TIME:
        body.set(Prop.DATE_TIME, datetime.fromtimestamp(value, UTC).strftime("%Y%m%dT%H%M%S"))
        return
    if code is Code.FORMAT:
        value = next((ours for ours, packed in _FORMATS.items() if packed == data), 0)
    if code is not Code.ISO or value != _ISO_AUTO:
        body.set(SETTINGS[code].prop, SETTINGS[code].ours(value))
    if code is Code.ISO:
        body.set(Prop.CANON_ISO_AUTO, int(value == _ISO_AUTO))


def _event(kind: int, payload: bytes) -> bytes:
    return struct.pack("<II", 8 + len(payload), kind) + payload


def _packed(code: Code, value: int) -> bytes:
    return _FORMATS[value] if code is Code.FORMAT else struct.pack("<I", value)


def _value(body: Body, code: Code) -> bytes:
    if code is Code.SERIAL:
        return b"DH-0001\0"
    if code in SETTINGS:
        auto = code is Code.ISO and body.get(Prop.CANON_ISO_AUTO)
        return _packed(code, _ISO_AUTO if auto else SETTINGS[code].theirs(int(body.get(SETTINGS[code].prop))))
    if code is Code.BATTERY:
        percent = int(body.get(Prop.BATTERY_LEVEL))
        return struct.pack("<I", next((step for least, step in _BATTERY if percent >= least), 0))
    if code is Code.TIME:
        return struct.pack("<I", int(body.stamp(body.clock.utc()).timestamp()))
    return struct.pack("<I", body.card.free_images)
