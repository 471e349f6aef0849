"""PTP on the wire: codes, data sets and property values (ISO 15740:2013), little-endian as PTP/IP wants it."""

from __future__ import annotations

import struct
from collections.abc import Iterable
from enum import IntEnum


class Operation(IntEnum):
    GET_DEVICE_INFO = 0x1001
    OPEN_SESSION = 0x1002
    CLOSE_SESSION = 0x1003
    GET_STORAGE_IDS = 0x1004
    GET_STORAGE_INFO = 0x1005
    GET_NUM_OBJECTS = 0x1006
    GET_OBJECT_HANDLES = 0x1007
    GET_OBJECT_INFO = 0x1008
    GET_OBJECT = 0x1009
    GET_THUMB = 0x100A
    DELETE_OBJECT = 0x100B
    INITIATE_CAPTURE = 0x100E
    GET_DEVICE_PROP_DESC = 0x1014
    GET_DEVICE_PROP_VALUE = 0x1015
    SET_DEVICE_PROP_VALUE = 0x1016
    TERMINATE_OPEN_CAPTURE = 0x1018
    GET_PARTIAL_OBJECT = 0x101B
    INITIATE_OPEN_CAPTURE = 0x101C
    GET_STREAM_INFO = 0x1024
    GET_STREAM = 0x1025
    NIKON_CHANGE_CAMERA_MODE = 0x90C2
    NIKON_CHECK_EVENT = 0x90C7
    NIKON_DEVICE_READY = 0x90C8
    NIKON_START_LIVE_VIEW = 0x9201
    NIKON_END_LIVE_VIEW = 0x9202
    NIKON_LIVE_VIEW_IMAGE = 0x9203
    NIKON_CAPTURE_TO_MEDIA = 0x9207
    NIKON_TERMINATE_CAPTURE = 0x920C
    CANON_GET_STORAGE_IDS = 0x9101
    CANON_GET_STORAGE_INFO = 0x9102
    CANON_SET_PROP_VALUE = 0x9110
    CANON_SET_REMOTE_MODE = 0x9114
    CANON_SET_EVENT_MODE = 0x9115
    CANON_GET_EVENT = 0x9116
    CANON_HOST_CAPACITY = 0x911A
    CANON_KEEP_DEVICE_ON = 0x911D
    CANON_BULB_START = 0x9125
    CANON_BULB_END = 0x9126
    CANON_REQUEST_PROP_VALUE = 0x9127
    CANON_REMOTE_RELEASE_ON = 0x9128
    CANON_REMOTE_RELEASE_OFF = 0x9129
    CANON_TERMINATE_VIEWFINDER = 0x9152
    CANON_VIEWFINDER_DATA = 0x9153


class Response(IntEnum):
    OK = 0x2001
    GENERAL_ERROR = 0x2002
    SESSION_NOT_OPEN = 0x2003
    OPERATION_NOT_SUPPORTED = 0x2005
    PARAMETER_NOT_SUPPORTED = 0x2006
    INCOMPLETE_TRANSFER = 0x2007
    INVALID_STORAGE_ID = 0x2008
    INVALID_OBJECT_HANDLE = 0x2009
    DEVICE_PROP_NOT_SUPPORTED = 0x200A
    STORE_FULL = 0x200C
    STORE_READ_ONLY = 0x200E
    ACCESS_DENIED = 0x200F
    NO_THUMBNAIL_PRESENT = 0x2010
    STORE_NOT_AVAILABLE = 0x2013
    CAPTURE_ALREADY_TERMINATED = 0x2018
    DEVICE_BUSY = 0x2019
    INVALID_DEVICE_PROP_FORMAT = 0x201B
    INVALID_DEVICE_PROP_VALUE = 0x201C
    INVALID_PARAMETER = 0x201D
    SESSION_ALREADY_OPEN = 0x201E
    NIKON_NOT_LIVE_VIEW = 0xA00B
    CANON_NOT_READY = 0xA102


class Event(IntEnum):
    OBJECT_ADDED = 0x4002
    DEVICE_PROP_CHANGED = 0x4006
    STORE_FULL = 0x400A
    CAPTURE_COMPLETE = 0x400D
    CANON_VALUE = 0xC189
    CANON_CHOICES = 0xC18A


class Format(IntEnum):
    ASSOCIATION = 0x3001
    EXIF_JPEG = 0x3801
    DNG = 0x3811


class Type(IntEnum):
    """Data types that the device properties here have."""

    UINT8 = 0x0002
    INT16 = 0x0003
    UINT16 = 0x0004
    UINT32 = 0x0006
    STRING = 0xFFFF


_STRUCT = {Type.UINT8: "<B", Type.INT16: "<h", Type.UINT16: "<H", Type.UINT32: "<I"}

Value = int | str


def string(text: str) -> bytes:
    """A PTP string: one byte for the count of UTF-16 units with the closing null, then the units; empty is one 0."""
    if not text:
        return b"\0"
    units = text.encode("utf-16-le") + b"\0\0"
    return bytes([len(units) // 2]) + units


def array(code: str, values: Iterable[int]) -> bytes:
    """A PTP array: u32 count and the elements, `code` being the struct letter of one."""
    items = tuple(values)
    return struct.pack(f"<I{len(items)}{code}", len(items), *items)


def pack_value(kind: Type, value: Value) -> bytes:
    if isinstance(value, str):
        return string(value)
    return struct.pack(_STRUCT[kind], value)


def unpack_value(kind: Type, data: bytes) -> Value:
    """The value in `data`; raises ValueError when it has not the size or the shape of its type."""
    if kind is Type.STRING:
        count = data[0] if data else -1
        if len(data) != 1 + 2 * count:
            raise ValueError("a PTP string of the wrong length")
        return data[1:].decode("utf-16-le").rstrip("\0")
    try:
        (number,) = struct.unpack(_STRUCT[kind], data)
    except struct.error as error:
        raise ValueError(str(error)) from error
    return int(number)


def prop_desc(
    code: int, kind: Type, writable: bool, default: Value, current: Value, form: tuple[int, ...] | range | None
) -> bytes:
    """A DevicePropDesc data set; `form` is an enumeration (tuple), a range with its step, or None."""
    out = struct.pack("<HHB", code, kind, writable) + pack_value(kind, default) + pack_value(kind, current)
    if form is None:
        return out + b"\0"
    if isinstance(form, range):
        return out + b"\1" + b"".join(pack_value(kind, v) for v in (form.start, form.stop - 1, form.step))
    return out + b"\2" + struct.pack("<H", len(form)) + b"".join(pack_value(kind, v) for v in form)
