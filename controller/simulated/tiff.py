"""A small writer and reader of TIFF directories (TIFF 6.0, little-endian), for Exif and for the raw file."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import BinaryIO

BYTE, ASCII, SHORT, LONG, RATIONAL, UNDEFINED, SRATIONAL = 1, 2, 3, 4, 5, 7, 10
_LETTER = {BYTE: "B", SHORT: "H", LONG: "I", RATIONAL: "II", UNDEFINED: "B", SRATIONAL: "ii"}

Number = int | float | Fraction


@dataclass(frozen=True)
class Blob:
    """Bytes that a LONG tag points to, such as a thumbnail or the image itself."""

    data: bytes


@dataclass(frozen=True)
class Directory:
    """Tags in ascending order: number -> (type, value); a value may be another directory (LONG, its offset)."""

    tags: dict[int, tuple[int, Sequence[Number] | str | bytes | Blob | Directory]]


def _encode(kind: int, value: Sequence[Number] | str | bytes) -> tuple[int, bytes]:
    if isinstance(value, str):
        data = value.encode("ascii") + b"\0"
        return len(data), data
    if isinstance(value, bytes):
        return len(value), value
    if kind in (RATIONAL, SRATIONAL):
        parts = [Fraction(v).limit_denominator(100_000) for v in value]
        return len(parts), b"".join(struct.pack(f"<{_LETTER[kind]}", p.numerator, p.denominator) for p in parts)
    return len(value), struct.pack(f"<{len(value)}{_LETTER[kind]}", *(int(v) for v in value))


def encode(directories: Sequence[Directory]) -> bytes:
    """A TIFF file whose directories follow each other (IFD0, IFD1, …)."""
    out = bytearray(b"II*\0\x08\0\0\0")
    for index, directory in enumerate(directories):
        _append(out, directory, last=index == len(directories) - 1)
    return bytes(out)


def _append(out: bytearray, directory: Directory, last: bool = True) -> int:
    """Put a directory and all that it points to at the end of `out`; the offset where it begins."""
    start = len(out)
    size = 2 + 12 * len(directory.tags) + 4
    out += bytes(size)
    entries = bytearray(struct.pack("<H", len(directory.tags)))
    for tag, (kind, value) in sorted(directory.tags.items()):
        if isinstance(value, Directory):
            count, data = 1, struct.pack("<I", _append(out, value))
        elif isinstance(value, Blob):
            count, data = 1, struct.pack("<I", _place(out, value.data))
        else:
            count, data = _encode(kind, value)
        if len(data) > 4:
            data = struct.pack("<I", _place(out, data))
        entries += struct.pack("<HHI", tag, kind, count) + data.ljust(4, b"\0")
    if len(out) % 2:
        out += b"\0"
    entries += struct.pack("<I", 0 if last else len(out))
    out[start : start + size] = entries
    return start


def _place(out: bytearray, data: bytes) -> int:
    if len(out) % 2:
        out += b"\0"
    start = len(out)
    out += data
    return start


def read(source: BinaryIO, base: int, index: int) -> dict[int, int]:
    """The first value of each whole-number tag of directory `index` of the TIFF that begins at `base`.

    {} where there is no such directory; raises struct.error where the file ends too soon.
    """

    def at(code: str, offset: int) -> tuple[int, ...]:
        source.seek(base + offset)
        numbers: tuple[int, ...] = struct.unpack(code, source.read(struct.calcsize(code)))
        return numbers

    (offset,) = at("<I", 4)
    for _ in range(index):
        (count,) = at("<H", offset)
        (offset,) = at("<I", offset + 2 + 12 * count)
        if not offset:
            return {}
    found: dict[int, int] = {}
    for entry in range(at("<H", offset)[0]):
        tag, kind, _, value = at("<HHII", offset + 2 + 12 * entry)
        if kind in (SHORT, LONG):
            found[tag] = value & 0xFFFF if kind == SHORT else value
    return found
