"""RAW files that are no TIFF by name, as small as LibRaw and ExifTool take them, with invented settings.

CR3 is of boxes (ISO/IEC 14496-12: size, name, content), RAF has a head that tells where its JPEG is, RW2 and ORF are
TIFF 6.0 under another number than 42. What their own tags and boxes hold: ExifTool's tables, and LibRaw's source.
"""

from __future__ import annotations

import io
import struct
from typing import Any

from PIL import Image

from controller.simulated import tiff
from controller.simulated.tiff import ASCII, LONG, RATIONAL, SHORT, UNDEFINED, Blob, Directory

Tags = dict[int, Any]
WIDTH, HEIGHT = 64, 48
SENSOR_AT = 8192  # in RW2
DARK = bytes(2 * WIDTH * HEIGHT)  # what the sensor saw, 16 bits a pixel; of CR3 it cannot be developed


def exif(seconds: float, aperture: float, iso: int | None) -> Tags:
    """Of an Exif directory (CIPA DC-008); without `iso` the body tells it elsewhere."""
    tags: Tags = {
        0x829A: (RATIONAL, [seconds]),
        0x829D: (RATIONAL, [aperture]),
        0x9000: (UNDEFINED, b"0230"),
    }
    return tags if iso is None else tags | {0x8827: (SHORT, [iso])}


def named(model: str, inside: Tags) -> Tags:
    """Of a first directory."""
    return {0x010F: (ASCII, "Invented"), 0x0110: (ASCII, model), 0x8769: (LONG, Directory(inside))}


def orf(inside: Tags, jpeg: bytes | None = None, magic: bytes = b"IIRO") -> bytes:
    first = named("ORF", inside) | {
        0x0100: (LONG, [WIDTH]),
        0x0101: (LONG, [HEIGHT]),
        0x0102: (SHORT, [16]),
        0x0103: (SHORT, [1]),  # Compression: none
        0x0106: (SHORT, [1]),
        0x0111: (LONG, Blob(DARK)),
        0x0115: (SHORT, [1]),
        0x0116: (LONG, [HEIGHT]),
        0x0117: (LONG, [len(DARK)]),
    }
    content = jpeg or grey()
    small: Tags = {0x0103: (SHORT, [6]), 0x0201: (LONG, Blob(content)), 0x0202: (LONG, [len(content)])}
    return magic + tiff.encode([Directory(first), Directory(small)])[4:]


def rw2(inside: Tags, jpeg: bytes | None = None, iso: int = 100, long_iso: int | None = None) -> bytes:
    sides = {2: WIDTH, 3: HEIGHT, 4: 0, 5: 0, 6: HEIGHT, 7: WIDTH}  # of the sensor, and its edges
    own: Tags = {tag: (SHORT, [value]) for tag, value in {**sides, 8: 1, 9: 4, 10: 16, 11: 34316, 0x17: iso}.items()}
    own |= {1: (UNDEFINED, b"0300"), 0x2E: (UNDEFINED, jpeg or grey()), 0x0118: (LONG, [SENSOR_AT])}
    if long_iso is not None:
        own[0x37] = (LONG, [long_iso])
    return b"IIU\0" + tiff.encode([Directory(own | named("RW2", inside))])[4:].ljust(SENSOR_AT - 4, b"\0") + DARK


def raf(inside: Tags, jpeg: bytes | None = None) -> bytes:
    plain = jpeg or grey()
    told = b"Exif\0\0" + tiff.encode([Directory(named("RAF", inside))])
    whole = plain[:2] + b"\xff\xe1" + struct.pack(">H", len(told) + 2) + told + plain[2:]
    own = struct.pack(">IHHHH", 1, 0x0100, 4, HEIGHT, WIDTH)
    head = b"FUJIFILMCCD-RAW 0201FF000000" + b"Invented".ljust(32, b"\0") + b"0100".ljust(24, b"\0")
    places = struct.pack(">6I", 148, len(whole), 148 + len(whole), len(own), 148 + len(whole) + len(own), len(DARK))
    return (head + places).ljust(148, b"\0") + whole + own + DARK


def cr3(inside: Tags, jpeg: bytes | None = None, *, wide: bool = False, before: bytes = b"") -> bytes:
    """`wide`: boxes around Exif whose sizes are of 64 bits; `before`: boxes in front of moov."""
    content = jpeg or grey()
    front = box(b"ftyp", b"crx \0\0\0\1crx isom") + before
    at = len(front) + len(_moov(inside, wide, 0, len(content))) + 8
    return front + _moov(inside, wide, at, len(content)) + box(b"mdat", content + DARK)


def _moov(inside: Tags, wide: bool, at: int, length: int) -> bytes:
    first = {tag: value for tag, value in named("CR3", {}).items() if tag != 0x8769}
    told = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48") + box(b"CNCV", b"CanonCR3_001/00.09.00/00.00.00")
    told += box(b"CMT1", tiff.encode([Directory(first)])) + box(b"CMT2", tiff.encode([Directory(inside)]), wide)
    sides = struct.pack(">4I", WIDTH, HEIGHT, WIDTH, HEIGHT)
    sensor = struct.pack(">IHH", 0, 0x0100, 0) + sides + bytes([14, 0x40, 0, 0]) + struct.pack(">I", 64) + bytes(20)
    tracks = _track(b"JPEG", bytes(4), at, length) + _track(b"CMP1", sensor, at + length, len(DARK))
    return box(b"moov", box(b"uuid", told, wide) + box(b"mvhd", bytes(100)) + tracks, wide)


def _track(kind: bytes, told: bytes, at: int, length: int) -> bytes:
    entry = box(b"CRAW", bytes(24) + struct.pack(">HH", WIDTH, HEIGHT) + bytes(54) + box(kind, told))
    table = box(b"stsd", struct.pack(">II", 0, 1) + entry)
    table += box(b"stsz", struct.pack(">III", 0, length, 1)) + box(b"co64", struct.pack(">IIQ", 0, 1, at))
    handler = box(b"hdlr", bytes(8) + b"vide" + bytes(13))
    return box(b"trak", box(b"mdia", handler + box(b"minf", box(b"stbl", table))))


def box(name: bytes, content: bytes, wide: bool = False) -> bytes:
    if wide:
        return struct.pack(">I4sQ", 1, name, 16 + len(content)) + content
    return struct.pack(">I4s", 8 + len(content), name) + content


def grey() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (32, 24), "grey").save(out, "JPEG")
    return out.getvalue()
