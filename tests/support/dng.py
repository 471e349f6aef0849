"""RAW files for tests, written to Adobe's Digital Negative Specification 1.4 (tags and colour from memory of it).

The sensor behind them is known: it answers to CIE XYZ by `TO_CAMERA` (ColorMatrix1, for D65), through RGGB filters,
without noise.
"""

from __future__ import annotations

import io
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from controller.simulated import tiff
from controller.simulated.tiff import ASCII, BYTE, LONG, RATIONAL, SHORT, SRATIONAL, Blob, Directory

Floats = NDArray[np.float64]
# linear sRGB to XYZ, IEC 61966-2-1; its rows' sums are D65
TO_XYZ: Floats = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
# invented, of the kind that sensors have: it mixes all three, and red and blue are weaker than green
TO_CAMERA: Floats = np.array([[0.75, -0.20, -0.06], [-0.42, 1.25, 0.18], [-0.08, 0.21, 0.60]])
BLACK, WHITE = 512, 15_300


def mosaic(scene: Floats, black: int = BLACK, white: int = WHITE) -> NDArray[np.uint16]:
    """What the sensor says of a scene (height, width, 3) in linear sRGB, where 1.0 of grey saturates green."""
    camera = TO_CAMERA @ TO_XYZ
    values = scene @ (camera / (camera @ np.ones(3)).max()).T
    levels = np.round(black + np.clip(values, 0, 1) * (white - black)).astype(np.uint16)
    out = np.empty(scene.shape[:2], np.uint16)
    for channel, row, column in ((0, 0, 0), (1, 0, 1), (1, 1, 0), (2, 1, 1)):
        out[row::2, column::2] = levels[row::2, column::2, channel]
    return out


def neutral() -> Floats:
    """AsShotNeutral: what the sensor says of D65 white, the strongest channel as 1."""
    white: Floats = TO_CAMERA @ TO_XYZ @ np.ones(3)
    return np.asarray(white / white.max())


def dng(
    scene: Floats,
    *,
    preview: Image.Image | None = None,
    bitmap: bool = False,
    orientation: int = 1,
    as_shot: Floats | None = None,
    black: int = BLACK,
    white: int = WHITE,
    filters: bool = True,
) -> bytes:
    """A whole file; the picture inside is a JPEG, or plain RGB where it is a `bitmap`.

    Without `filters` before it the sensor sees the scene's green as grey.
    """
    height, width = scene.shape[:2]
    grey = np.round(black + np.clip(scene[..., 1], 0, 1) * (white - black))
    body = (mosaic(scene, black, white) if filters else grey).astype("<u2").tobytes()
    camera: dict[int, Any] = {
        0x010F: (ASCII, "Invented"),
        0x0110: (ASCII, "Test sensor"),
        0x0112: (SHORT, [orientation]),
        0xC612: (BYTE, [1, 4, 0, 0]),  # DNGVersion
        0xC614: (ASCII, "Invented Test sensor"),  # UniqueCameraModel
        0xC621: (SRATIONAL, TO_CAMERA.ravel().tolist()),  # ColorMatrix1
        0xC628: (RATIONAL, (neutral() if as_shot is None else as_shot).tolist()),  # AsShotNeutral
        0xC65A: (SHORT, [21]),  # CalibrationIlluminant1: D65
    }
    sensor: dict[int, Any] = {
        0x00FE: (LONG, [0]),  # NewSubfileType: the picture itself
        0x0100: (LONG, [width]),
        0x0101: (LONG, [height]),
        0x0102: (SHORT, [16]),
        0x0103: (SHORT, [1]),  # Compression: none
        0x0106: (SHORT, [32803]),  # PhotometricInterpretation: colour filter array
        0x0111: (LONG, Blob(body)),
        0x0115: (SHORT, [1]),
        0x0116: (LONG, [height]),
        0x0117: (LONG, [len(body)]),
        0x011C: (SHORT, [1]),
        0x828D: (SHORT, [2, 2]),  # CFARepeatPatternDim
        0x828E: (BYTE, [0, 1, 1, 2]),  # CFAPattern
        0xC61A: (SHORT, [black]),  # BlackLevel
        0xC61D: (LONG, [white]),  # WhiteLevel
    }
    if not filters:
        sensor[0x0106] = (SHORT, [34892])  # LinearRaw
        for tag in (0x828D, 0x828E):
            del sensor[tag]
        for tag in (0xC621, 0xC628):
            del camera[tag]
    if preview is None:
        return tiff.encode([Directory(camera | sensor)])
    content = preview.tobytes() if bitmap else jpeg(preview)
    inside: dict[int, Any] = {
        0x00FE: (LONG, [1]),  # a smaller picture of the same
        0x0100: (LONG, [preview.width]),
        0x0101: (LONG, [preview.height]),
        0x0102: (SHORT, [8, 8, 8]),
        0x0103: (SHORT, [1 if bitmap else 7]),  # none, or JPEG
        0x0106: (SHORT, [2 if bitmap else 6]),  # RGB, or YCbCr
        0x0111: (LONG, Blob(content)),
        0x0115: (SHORT, [3]),
        0x0116: (LONG, [preview.height]),
        0x0117: (LONG, [len(content)]),
        0x011C: (SHORT, [1]),
        0x014A: (LONG, Directory(sensor)),  # SubIFDs
    }
    return tiff.encode([Directory(camera | inside)])


def jpeg(image: Image.Image, **more: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=95, **more)
    return out.getvalue()
