"""Where Exif stands in a picture's file: JPEG, TIFF, and RAW files that are neither, read by Pillow all the same.

How the bodies' own formats lie is told by ExifTool's tables (its tag names FujiFilm RAF, Canon uuid, PanasonicRaw) and,
of CR3's boxes, by ISO/IEC 14496-12. LibRaw knows it all too, but rawpy decodes the whole sensor before it tells.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

from PIL import ContainerIO, ExifTags, Image

_RAF = b"FUJIFILMCCD-RAW "
_RAF_JPEG = 84  # where place and length of its JPEG stand, 32 bits each, big-endian
_CR3 = b"ftypcrx "
_CANON = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")  # the uuid box in moov that holds
_EXIF_BOX = b"CMT2"  # a TIFF whose first directory is Exif's
_MOST_BOXES = 64  # beside each other; a file of nothing but empty boxes is none
_RW2 = b"IIU\0"
_OF_RW2 = {0x17: ExifTags.Base.ISOSpeedRatings, 0x37: ExifTags.Base.ISOSpeed}  # in its first directory
_SHORT = 3
_ORF = {b"IIRO": "<", b"IIRS": "<", b"MMOR": ">"}  # instead of a TIFF's II*\0 and MM\0*

Span = tuple[int, int]
"""First byte and the one after the last."""


def exif_tags(path: Path) -> dict[int, Any]:
    """Exif's own directory; empty where there is none. Read are heads and directories, with what these hold.

    Raises any of `exif.BROKEN` where the file is damaged, missing or of another kind.
    """
    with path.open("rb") as file:
        head = file.read(16)
        if head.startswith(b"\xff\xd8"):
            return _of_jpeg(file)
        if head == _RAF:
            file.seek(_RAF_JPEG)
            return _of_jpeg(ContainerIO.ContainerIO(file, *struct.unpack(">II", file.read(8))))
        if head[4:12] == _CR3:
            return _of_cr3(file)
        if head.startswith(_RW2):
            return _of_rw2(file, head)
        return _of_tiff(file, head)


def _of_jpeg(file: IO[bytes]) -> dict[int, Any]:
    with Image.open(file, formats=("JPEG",)) as image:
        return image.getexif().get_ifd(ExifTags.IFD.Exif)


def _of_tiff(file: IO[bytes], head: bytes) -> dict[int, Any]:
    first = Image.Exif()
    first.endian = _ORF.get(head[:4])
    file.seek(0)
    first.load_from_fp(file, struct.unpack_from(f"{first.endian}I", head, 4)[0] if first.endian else None)
    return first.get_ifd(ExifTags.IFD.Exif)


def _of_rw2(file: IO[bytes], head: bytes) -> dict[int, Any]:
    """By hand as far as the first directory goes: it holds a whole JPEG, which Pillow would read along."""
    file.seek(struct.unpack_from("<I", head, 4)[0])
    (entries,) = struct.unpack("<H", file.read(2))
    rows = struct.iter_unpack("<HHII", file.read(12 * entries))  # all of ours hold their value themselves
    first = {tag: value & 0xFFFF if kind == _SHORT else value for tag, kind, _, value in rows}
    exif = Image.Exif()
    exif.endian = "<"
    exif.load_from_fp(file, first[ExifTags.IFD.Exif])
    return {standard: first[own] for own, standard in _OF_RW2.items() if own in first} | dict(exif)


def _of_cr3(file: IO[bytes]) -> dict[int, Any]:
    whole = 0, file.seek(0, os.SEEK_END)
    for moov in _boxes(file, whole, b"moov"):
        for start, end in _boxes(file, moov, b"uuid"):
            file.seek(start)
            if file.read(len(_CANON)) == _CANON:
                for first, last in _boxes(file, (start + len(_CANON), end), _EXIF_BOX):
                    exif = Image.Exif()
                    exif.load_from_fp(ContainerIO.ContainerIO(file, first, last - first))
                    return dict(exif)
    return {}


def _boxes(file: IO[bytes], within: Span, kind: bytes) -> Iterator[Span]:
    """What boxes of a kind hold, one after the other; ends at one that is longer than what it lies in."""
    start, end = within
    for _ in range(_MOST_BOXES):
        if start == end:
            return
        file.seek(start)
        size, name = struct.unpack(">I4s", file.read(8))
        body = start + 8
        if size == 1:
            (size,) = struct.unpack(">Q", file.read(8))
            body += 8
        after = start + size if size else end
        if not body <= after <= end:
            return
        if name == kind:
            yield body, after
        start = after
