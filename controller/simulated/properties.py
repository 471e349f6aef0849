"""The device properties: one line for each, with its type, whether it can be set, its values and its default."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from controller.simulated.ptp import Type, Value
from controller.simulated.stops import APERTURE, BULB, ISO, SHUTTER_S


class Prop(IntEnum):
    BATTERY_LEVEL = 0x5001
    COMPRESSION = 0x5004
    WHITE_BALANCE = 0x5005
    F_NUMBER = 0x5007
    FOCAL_LENGTH = 0x5008
    FOCUS_MODE = 0x500A
    METERING_MODE = 0x500B
    FLASH_MODE = 0x500C
    EXPOSURE_TIME = 0x500D
    EXPOSURE_PROGRAM = 0x500E
    EXPOSURE_INDEX = 0x500F
    EXPOSURE_BIAS = 0x5010
    DATE_TIME = 0x5011
    STILL_CAPTURE_MODE = 0x5013
    BURST_NUMBER = 0x5018
    ARTIST = 0x501E
    COPYRIGHT = 0x501F
    SUPPORTED_STREAMS = 0x5020
    ENABLED_STREAMS = 0x5021
    NIKON_ISO_AUTO = 0xD054
    NIKON_LONG_EXPOSURE_NR = 0xD06B
    NIKON_EXPOSURE_TIME = 0xD100
    NIKON_EXPOSURES_LEFT = 0xD103
    NIKON_AUTOFOCUS_MODE = 0xD161
    CANON_STYLE = 0xD110
    CANON_AUTO_POWER_OFF = 0xD114
    CANON_TARGET = 0xD11C
    CANON_VIEW = 0xD1B0
    CANON_ISO_AUTO = 0xDF03  # inside the maker's own ISO, where it is one of the values


class Program(IntEnum):
    """Values of ExposureProgramMode that this camera has."""

    MANUAL = 1
    AUTOMATIC = 2
    APERTURE_PRIORITY = 3
    SHUTTER_PRIORITY = 4


JPEG, RAW_AND_JPEG = 1, 2
CARD, HOST = 2, 4
"""Where a frame goes, of a body that lets that be chosen."""

#: While a frame is being exposed these cannot be set: Device_Busy.
HELD_WHILE_EXPOSING = frozenset(
    {
        Prop.F_NUMBER,
        Prop.EXPOSURE_TIME,
        Prop.NIKON_EXPOSURE_TIME,
        Prop.EXPOSURE_INDEX,
        Prop.EXPOSURE_PROGRAM,
        Prop.COMPRESSION,
    }
)


@dataclass(frozen=True)
class Spec:
    """`form` is an enumeration (tuple), a range, or None for free values."""

    kind: Type
    writable: bool
    default: Value
    form: tuple[int, ...] | range | None = None

    def allows(self, value: Value) -> bool:
        return self.form is None or value in self.form


def specs(focal_length_mm: float) -> dict[Prop, Spec]:
    """The properties of a camera whose lens is fixed at `focal_length_mm`."""
    focal = round(focal_length_mm * 100)
    return {
        Prop.BATTERY_LEVEL: Spec(Type.UINT8, False, 100, range(0, 101)),
        Prop.COMPRESSION: Spec(Type.UINT8, True, JPEG, (JPEG, RAW_AND_JPEG)),
        # 2 automatic, 4 daylight, 6 tungsten: daylight is what the pictures are drawn in
        Prop.WHITE_BALANCE: Spec(Type.UINT16, True, 4, (2, 4, 6)),
        Prop.F_NUMBER: Spec(Type.UINT16, True, 280, tuple(APERTURE)),
        Prop.FOCAL_LENGTH: Spec(Type.UINT32, False, focal, (focal,)),
        Prop.FOCUS_MODE: Spec(Type.UINT16, True, 1, (1, 2)),  # 1 manual, 2 automatic
        Prop.METERING_MODE: Spec(Type.UINT16, True, 2, (2,)),  # average
        Prop.FLASH_MODE: Spec(Type.UINT16, True, 2, (2,)),  # off
        Prop.EXPOSURE_TIME: Spec(Type.UINT32, True, 80, (*sorted(SHUTTER_S), BULB)),
        Prop.EXPOSURE_PROGRAM: Spec(Type.UINT16, True, Program.MANUAL, tuple(Program)),
        Prop.EXPOSURE_INDEX: Spec(Type.UINT16, True, 100, tuple(ISO)),
        Prop.EXPOSURE_BIAS: Spec(Type.INT16, True, 0, tuple(round(k * 1000 / 3) for k in range(-9, 10))),
        Prop.DATE_TIME: Spec(Type.STRING, True, "19700101T000000"),
        Prop.STILL_CAPTURE_MODE: Spec(Type.UINT16, True, 1, (1,)),
        Prop.BURST_NUMBER: Spec(Type.UINT16, True, 1, (1,)),
        Prop.ARTIST: Spec(Type.STRING, True, ""),
        Prop.COPYRIGHT: Spec(Type.STRING, True, ""),
        Prop.SUPPORTED_STREAMS: Spec(Type.UINT32, False, 1),
        Prop.ENABLED_STREAMS: Spec(Type.UINT32, True, 0, (0, 1)),
    }
