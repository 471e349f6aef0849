"""Exif (CIPA DC-008) for a frame, the thumbnail inside it (DCF: 160 × 120), and the raw file (DNG 1.4)."""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from pathlib import Path

from controller.simulated import tiff
from controller.simulated.tiff import ASCII, BYTE, LONG, RATIONAL, SHORT, SRATIONAL, UNDEFINED, Blob, Directory

MAKE, MODEL = "Duskhand", "Simulated camera"
_THUMB_OFFSET, _THUMB_LENGTH = 0x0201, 0x0202
# XYZ (D65) to linear sRGB primaries, IEC 61966-2-1
_XYZ_TO_RGB = (3.2406, -1.5372, -0.4986, -0.9689, 1.8758, 0.0415, 0.0557, -0.2040, 1.0570)


@dataclass(frozen=True)
class Facts:
    """What Exif says of a frame; `shutter_s` and `aperture` are true, the labels nominal."""

    stamp: datetime
    shutter_s: float
    aperture: float
    f_label: Fraction
    iso_label: int
    focal_length_mm: float
    size: tuple[int, int]
    automatic_white: bool
    program: int


def _exposure(facts: Facts) -> Directory:
    moment = facts.stamp.strftime("%Y:%m:%d %H:%M:%S")
    offset = facts.stamp.strftime("%z")
    offset = f"{offset[:3]}:{offset[3:5]}"
    hundredths = f"{facts.stamp.microsecond // 10_000:02d}"
    return Directory(
        {
            0x829A: (RATIONAL, [Fraction(facts.shutter_s).limit_denominator(100_000)]),  # ExposureTime
            0x829D: (RATIONAL, [facts.f_label]),  # FNumber
            0x8822: (SHORT, [facts.program]),  # ExposureProgram
            0x8827: (SHORT, [facts.iso_label]),  # PhotographicSensitivity
            0x8830: (SHORT, [2]),  # SensitivityType: recommended exposure index
            0x9000: (UNDEFINED, b"0232"),  # ExifVersion
            0x9003: (ASCII, moment),  # DateTimeOriginal
            0x9004: (ASCII, moment),  # DateTimeDigitized
            0x9010: (ASCII, offset),  # OffsetTime
            0x9011: (ASCII, offset),  # OffsetTimeOriginal
            0x9012: (ASCII, offset),  # OffsetTimeDigitized
            0x9201: (SRATIONAL, [-math.log2(facts.shutter_s)]),  # ShutterSpeedValue
            0x9202: (RATIONAL, [2 * math.log2(facts.aperture)]),  # ApertureValue
            0x9204: (SRATIONAL, [0]),  # ExposureBiasValue
            0x9207: (SHORT, [1]),  # MeteringMode: average
            0x9209: (SHORT, [0]),  # Flash: none
            0x920A: (RATIONAL, [facts.focal_length_mm]),  # FocalLength
            0x9290: (ASCII, hundredths),  # SubSecTime
            0x9291: (ASCII, hundredths),  # SubSecTimeOriginal
            0x9292: (ASCII, hundredths),  # SubSecTimeDigitized
            0xA001: (SHORT, [1]),  # ColorSpace: sRGB
            0xA002: (LONG, [facts.size[0]]),  # PixelXDimension
            0xA003: (LONG, [facts.size[1]]),  # PixelYDimension
            0xA402: (SHORT, [0 if facts.program > 1 else 1]),  # ExposureMode
            0xA403: (SHORT, [0 if facts.automatic_white else 1]),  # WhiteBalance
            0xA405: (SHORT, [round(facts.focal_length_mm)]),  # FocalLengthIn35mmFilm
            0xA431: (ASCII, "DH-0001"),  # BodySerialNumber
        }
    )


def _thumb(thumbnail: bytes) -> Directory:
    return Directory(
        {
            0x0103: (SHORT, [6]),
            0x011A: (RATIONAL, [72]),
            0x011B: (RATIONAL, [72]),
            0x0128: (SHORT, [2]),
            _THUMB_OFFSET: (LONG, Blob(thumbnail)),
            _THUMB_LENGTH: (LONG, [len(thumbnail)]),
        }
    )


def exif(facts: Facts, thumbnail: bytes) -> bytes:
    """The body of a JPEG's APP1 segment."""
    main = Directory(
        {
            0x010F: (ASCII, MAKE),
            0x0110: (ASCII, MODEL),
            0x0112: (SHORT, [1]),  # Orientation
            0x011A: (RATIONAL, [72]),
            0x011B: (RATIONAL, [72]),
            0x0128: (SHORT, [2]),
            0x0132: (ASCII, facts.stamp.strftime("%Y:%m:%d %H:%M:%S")),
            0x8769: (LONG, _exposure(facts)),
        }
    )
    return b"Exif\0\0" + tiff.encode([main, _thumb(thumbnail)])


def dng(facts: Facts, thumbnail: bytes, mosaic: bytes, white: int) -> bytes:
    """A raw file: `mosaic` holds 16-bit little-endian values behind an RGGB filter, clipped at `white`."""
    width, height = facts.size
    main = Directory(
        {
            0x00FE: (LONG, [0]),  # NewSubfileType
            0x0100: (LONG, [width]),
            0x0101: (LONG, [height]),
            0x0102: (SHORT, [16]),  # BitsPerSample
            0x0103: (SHORT, [1]),  # Compression: none
            0x0106: (SHORT, [32803]),  # PhotometricInterpretation: colour filter array
            0x010F: (ASCII, MAKE),
            0x0110: (ASCII, MODEL),
            0x0111: (LONG, Blob(mosaic)),  # StripOffsets
            0x0112: (SHORT, [1]),
            0x0115: (SHORT, [1]),  # SamplesPerPixel
            0x0116: (LONG, [height]),  # RowsPerStrip
            0x0117: (LONG, [len(mosaic)]),  # StripByteCounts
            0x011C: (SHORT, [1]),  # PlanarConfiguration
            0x0132: (ASCII, facts.stamp.strftime("%Y:%m:%d %H:%M:%S")),
            0x828D: (SHORT, [2, 2]),  # CFARepeatPatternDim
            0x828E: (BYTE, [0, 1, 1, 2]),  # CFAPattern
            0x8769: (LONG, _exposure(facts)),
            0xC612: (BYTE, [1, 4, 0, 0]),  # DNGVersion
            0xC614: (ASCII, f"{MAKE} {MODEL}"),  # UniqueCameraModel
            0xC61A: (SHORT, [0]),  # BlackLevel
            0xC61D: (LONG, [white]),  # WhiteLevel
            0xC621: (SRATIONAL, _XYZ_TO_RGB),  # ColorMatrix1
            0xC628: (RATIONAL, [1, 1, 1]),  # AsShotNeutral
            0xC65A: (SHORT, [21]),  # CalibrationIlluminant1: D65
        }
    )
    return tiff.encode([main, _thumb(thumbnail)])


def thumbnail_of(path: Path) -> bytes | None:
    """The thumbnail that a file on the card carries; None where there is none."""
    try:
        with path.open("rb") as source:
            head = source.read(64)
            base = head.find(b"Exif\0\0") + 6 if head[:2] == b"\xff\xd8" else 0
            tags = tiff.read(source, base, 1)
            if not tags.get(_THUMB_LENGTH):
                return None
            source.seek(base + tags[_THUMB_OFFSET])
            return source.read(tags[_THUMB_LENGTH])
    except (OSError, struct.error):
        return None
