"""Makes pictures, and reads a film back without the code that made it: by PyAV's decoder and the standards."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

import av
import numpy as np
from PIL import Image

from tests.results.nights import Floats, to_linear

RGB = tuple[int, int, int]


def jpeg(path: Path, size: tuple[int, int] = (96, 64), colour: RGB = (90, 100, 110), turned: int = 1) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    exif = Image.Exif()
    exif[274] = turned
    Image.new("RGB", size, colour).save(path, quality=95, exif=exif)


def boxes(path: Path) -> list[str]:
    """Top-level boxes of an ISO base media file (ISO/IEC 14496-12, 4.2), in order."""
    found = []
    content = path.read_bytes()
    place = 0
    while place < len(content):
        size, kind = struct.unpack(">I4s", content[place : place + 8])
        found.append(kind.decode())
        assert size >= 8
        place += size
    return found


def frames(path: Path) -> Iterator[Floats]:
    """Each frame as (height, width, 3) R'G'B' codes 0…255, from limited-range BT.709 (ITU-R BT.709-6, 3.2 to 3.5)."""
    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            assert frame.format.name == "yuv420p"
            planes = frame.to_ndarray().astype(float)
            height, width = frame.height, frame.width
            luma = (planes[:height] - 16) / 219
            chroma = (planes[height:].reshape(2, height // 2, width // 2) - 128) / 224
            blue, red = chroma.repeat(2, axis=1).repeat(2, axis=2)
            r = luma + 1.5748 * red
            b = luma + 1.8556 * blue
            g = (luma - 0.2126 * r - 0.0722 * b) / 0.7152
            yield 255 * np.clip(np.stack([r, g, b], axis=-1), 0, 1)


def levels(path: Path) -> Floats:
    """log2 of each frame's mean linear luminance."""
    weights = np.array([0.2126, 0.7152, 0.0722])
    return np.array([np.log2((to_linear(frame) @ weights).mean()) for frame in frames(path)])
