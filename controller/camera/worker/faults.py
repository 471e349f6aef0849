"""What libgphoto2's errors mean. Its codes say little; the body's own reason comes beside them as text."""

from __future__ import annotations

import re
from enum import Enum

from controller.camera.messages import BUSY_WRITING, STORE_FULL, Trouble


class Kind(Enum):
    BUSY = "busy"  # the same call may succeed in a moment
    FULL = "full"  # no room on the card
    LOST = "lost"  # the session is gone or out of step: only a new one helps
    UNSUPPORTED = "unsupported"
    REFUSED = "refused"  # the body will not, and says why


# Codes: gphoto2-port-result.h and gphoto2-result.h of libgphoto2 2.5.34.
_BY_CODE = {
    -3: Kind.FULL,
    -6: Kind.UNSUPPORTED,
    -7: Kind.LOST,  # I/O
    -10: Kind.LOST,  # time-out: a late answer would be taken for the answer to the next question
    -52: Kind.LOST,  # no such USB device
    -53: Kind.LOST,  # not claimable
    -105: Kind.LOST,  # no such camera
    -110: Kind.BUSY,
}
_SILENT = (-7, -10)  # no more is known than that nothing came
# Response codes by name: ISO 15740, section 11.
_BY_REASON = (
    ("device busy", Kind.BUSY),
    ("store full", Kind.FULL),
    ("operation not supported", Kind.UNSUPPORTED),
    ("session not open", Kind.LOST),
    ("transaction id", Kind.LOST),
    ("ptp timeout", Kind.LOST),
    ("ptp i/o error", Kind.LOST),
    ("no device", Kind.LOST),
    ("response expected", Kind.LOST),
    ("data expected", Kind.LOST),
)


def why_missed(fault: Fault) -> str:
    """The cause of a slot that passed while this stood in its way."""
    known = {Kind.BUSY: BUSY_WRITING, Kind.FULL: STORE_FULL}
    return known.get(fault.kind, f"the camera refused: {plain(fault.reason) or fault}")


class Fault(Exception):
    """A camera call failed: `doing` says which, `reason` is the body's own word where it gave one."""

    def __init__(self, doing: str, code: int, reason: str, kind: Kind | None = None) -> None:
        self.doing, self.code, self.reason = doing, code, reason
        self.kind = kind or kind_of(code, reason)

    def __str__(self) -> str:
        return f"{self.doing}: {self.reason or f'libgphoto2 error {self.code}'}"


def kind_of(code: int, reason: str) -> Kind:
    """The body's own reason where it is known, the library's code otherwise."""
    text = reason.lower()
    for words, kind in _BY_REASON:
        if words in text:
            return kind
    return _BY_CODE.get(code, Kind.REFUSED)


_PLAINER = {
    "i/o error": "the line to it broke",
    "timeout": "it did not answer in time",
    "general error": "it gave no reason",
}
_IN_BRACKETS = re.compile(r"\(0x[0-9a-f]{4}: PTP ([^)]+)\)")


def plain(reason: str) -> str:
    """The reason without the protocol's words: 'PTP Store Full' as 'store full'."""
    found = _IN_BRACKETS.search(reason)
    if found is None and not reason.startswith("PTP "):
        return reason
    word = (found[1] if found else reason.removeprefix("PTP ")).strip().rstrip(".").lower()
    return _PLAINER.get(word, word)


CARD_REMEDY = "Make room on the camera's card or put in another one"


def opening_trouble(fault: Fault, address: str) -> Trouble:
    """Why a camera cannot be opened, in words that tell what to do."""
    if fault.code == -53:
        remedy = "End it; on a desktop that is mostly the volume monitor (gvfs)"
        return Trouble("camera-claimed", "another program holds the camera", remedy)
    if fault.code in (-52, -105):
        there = "no camera found on USB" if address == "usb:" else f"no camera at {address}"
        return Trouble("camera-absent", there, "Switch the camera on, wake it, and look at its cable")
    known = "" if fault.code in _SILENT else f"libgphoto2 error {fault.code}"
    why = f" ({said})" if (said := plain(fault.reason) or known) else ""
    if address.startswith("ptpip:"):
        remedy = "Switch it on, and see that its address is right and its network on"
        return Trouble("camera-absent", f"the camera at {address} does not answer{why}", remedy)
    remedy = "Switch it off and on, and unplug its cable for a moment"
    return Trouble("camera-not-opened", f"the camera at {address} could not be opened{why}", remedy)
