"""Posing as a maker: vendor id, operations and properties that reach libgphoto2's own code for that maker's bodies.

Codes: libgphoto2 2.5.34, camlibs/ptp2/ptp.h; nothing here comes from a maker's documents.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from controller.simulated.properties import CARD, HOST, JPEG, RAW_AND_JPEG, Prop, Spec
from controller.simulated.ptp import Operation, Type
from controller.simulated.stops import BULB, fractions

_NIKON_OPERATIONS = frozenset(
    {
        Operation.NIKON_CHANGE_CAMERA_MODE,
        Operation.NIKON_CHECK_EVENT,
        Operation.NIKON_DEVICE_READY,
        Operation.NIKON_CAPTURE_TO_MEDIA,
        Operation.NIKON_TERMINATE_CAPTURE,
        Operation.NIKON_START_LIVE_VIEW,
        Operation.NIKON_END_LIVE_VIEW,
        Operation.NIKON_LIVE_VIEW_IMAGE,
    }
)


@dataclass(frozen=True)
class Maker:
    """`polled`: events are asked for by an operation instead of sent over the event connection.

    `standard`: the properties of the standard are shown, beside the maker's own; in place of them where not.
    `shutter` maps the maker's own codes of exposure times to those of ExposureTime.
    """

    name: str
    vendor_id: int = 0
    operations: frozenset[Operation] = frozenset()
    specs: Mapping[Prop, Spec] = field(default_factory=dict)
    shutter: Mapping[int, int] = field(default_factory=dict)
    jpeg: int = JPEG
    raw_and_jpeg: int = RAW_AND_JPEG
    polled: bool = False
    standard: bool = True

    def has(self, operation: Operation) -> bool:
        """Whether its bodies know the operation: all know those of the standard."""
        return operation < 0x9000 or operation in self.operations


GENERIC = Maker("generic")

_NIKON_SHUTTER = {**{(top << 16) | bottom: code for code, (top, bottom) in fractions().items()}, BULB: BULB}

NIKON = Maker(
    "nikon",
    vendor_id=0x0000000A,
    operations=_NIKON_OPERATIONS,
    specs={
        Prop.COMPRESSION: Spec(Type.UINT8, True, 2, (0, 1, 2, 4, 5, 6, 7)),  # 2 JPEG Fine, 4 NEF, 7 both
        Prop.FOCUS_MODE: Spec(Type.UINT16, True, 1, (1, 0x8010, 0x8011, 0x8012)),  # manual, AF-S, AF-C, AF-A
        Prop.NIKON_ISO_AUTO: Spec(Type.UINT8, True, 0, range(2)),
        Prop.NIKON_LONG_EXPOSURE_NR: Spec(Type.UINT8, True, 0, range(2)),
        Prop.NIKON_EXPOSURE_TIME: Spec(Type.UINT32, True, (1 << 16) | 125, tuple(_NIKON_SHUTTER)),
        Prop.NIKON_EXPOSURES_LEFT: Spec(Type.UINT32, False, 0),
        Prop.NIKON_AUTOFOCUS_MODE: Spec(Type.UINT8, True, 4, (0, 1, 2, 3, 4)),  # AF-S, AF-C, AF-A, MF fixed, MF chosen
    },
    shutter=_NIKON_SHUTTER,
    jpeg=2,
    raw_and_jpeg=7,
    polled=True,
)

CANON = Maker(
    "canon",
    vendor_id=0x0000000B,
    operations=frozenset(operation for operation in Operation if operation.name.startswith("CANON_")),
    specs={
        Prop.FOCUS_MODE: Spec(Type.UINT16, True, 3, (0, 1, 3)),  # one shot, following, manual
        Prop.STILL_CAPTURE_MODE: Spec(Type.UINT16, True, 0, (0, 1)),  # single, continuous
        Prop.CANON_ISO_AUTO: Spec(Type.UINT16, True, 0, (0, 1)),
        Prop.CANON_STYLE: Spec(Type.UINT32, True, 0x81, (0x81, 0x84)),  # standard, neutral
        Prop.CANON_AUTO_POWER_OFF: Spec(Type.UINT32, True, 60),  # seconds, 0 never
        Prop.CANON_TARGET: Spec(Type.UINT32, True, HOST, (CARD, HOST)),
        Prop.CANON_VIEW: Spec(Type.UINT32, True, 0, (0, 2)),  # where live view goes: nowhere, to the host
    },
    polled=True,
    standard=False,
)

MAKERS = {maker.name: maker for maker in (GENERIC, NIKON, CANON)}
