"""Framing: how messages travel between daemon and camera process.

Each is `u32 header length, u32 payload length` (little-endian), a JSON header that names the message's kind and
carries its fields, and the bytes of a preview as payload.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator
from typing import Any

from controller.camera import messages
from controller.camera.messages import CardFile, Command, Files, Hello, LiveImage, Preview, Report, SettingShown, Shown

Message = Command | Report | Hello

VERSION = 2
_LENGTHS = struct.Struct("<II")
_LARGEST_HEADER, _LARGEST_PAYLOAD = 32 << 20, 64 << 20
_KINDS: dict[str, type[Any]] = {
    name: getattr(messages, name)
    for name in (
        "Release Cancel Fetch PauseFetching ListFiles AskStatus AskSettings ChangeSetting Erase LookThrough Again "
        "Close Hello Opened Settled Released Missed Written Preview Fetched Trouble Tried Files Status Shown Erased "
        "LiveImage Alive"
    ).split()
}


class WireError(Exception):
    """What came over the wire is no message of ours: one side is broken or of another version."""


def encode(message: Message) -> bytes:
    """The bytes of one message."""
    fields = _fields(message)
    payload = fields.pop("jpeg") if isinstance(message, Preview | LiveImage) else b""
    header = json.dumps({"kind": type(message).__name__, **fields}, default=_fields, separators=(",", ":")).encode()
    return _LENGTHS.pack(len(header), len(payload)) + header + payload


class Decoder:
    """Turns bytes in any pieces into messages; raises WireError."""

    def __init__(self) -> None:
        self._waiting = bytearray()

    def feed(self, data: bytes) -> Iterator[Message]:
        """Take `data` in and yield every message that is now complete."""
        self._waiting += data
        while len(self._waiting) >= _LENGTHS.size:
            header, payload = _LENGTHS.unpack_from(self._waiting)
            if header > _LARGEST_HEADER or payload > _LARGEST_PAYLOAD:
                raise WireError(f"a message of {header} + {payload} bytes")
            start, end = _LENGTHS.size + header, _LENGTHS.size + header + payload
            if len(self._waiting) < end:
                return
            message = _decode(bytes(self._waiting[_LENGTHS.size : start]), bytes(self._waiting[start:end]))
            del self._waiting[:end]
            yield message


def _fields(message: Any) -> dict[str, Any]:
    return {name: getattr(message, name) for name in message.__slots__}


def _decode(header: bytes, payload: bytes) -> Message:
    try:
        fields = json.loads(header)
        kind = _KINDS[fields.pop("kind")]
        if kind in (Preview, LiveImage):
            fields["jpeg"] = payload
        if kind is Files:
            fields["files"] = [CardFile(**file) for file in fields["files"]]
        if kind is Shown:
            fields["settings"] = [SettingShown(**setting) for setting in fields["settings"]]
        message: Message = kind(**fields)
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise WireError(f"no message of ours: {header[:120]!r}") from error
    return message
