"""What a picture shows of weather and light, measured in linear light from its small version.

- contrast: the root mean square of luminance against its mean (Peli, "Contrast in complex images", J. Opt. Soc. Am. A 7
  (1990) 2032), and Michelson's (Studies in Optics, 1927) between the 1st and the 99th percentile, so that no single
  pixel counts.
- sharpness: the variance of the Laplacian (Pech-Pacheco et al., "Diatom autofocusing in brightfield microscopy", ICPR
  2000), of luminance against its mean, so that it does not go by the exposure; of the whole and of tiles.

Through air of extinction σ the contrast of a thing at distance d falls as exp(−σd) (Koschmieder, 1924): fog takes it
from all that is far.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from controller.results.clip import raw
from controller.results.clip.reading import Unreadable
from controller.results.clip.small import inside
from controller.results.clip.tone import LINEAR, WEIGHTS
from controller.words.bars import shape_between_bars

EDGE = 320
"""Pixels of the shorter side that are measured, at least where the picture has them."""

TILES = (9, 12)  # down and across
_STEP = 8.0  # parts of one in log2 to which the sharpness of a tile is kept, in one byte
_LEAST = -24.0
_DARKEST = 2.0**-14

Light = NDArray[np.float32]
_TABLES = np.stack([LINEAR * weight for weight in WEIGHTS]).astype(np.float32)


@dataclass(frozen=True, slots=True)
class Measures:
    """All as log2; `light` is the scene's brightness in EV where the exposure is known, else the picture's."""

    light: float
    rms: float
    michelson: float
    sharp: float
    tiles: NDArray[np.uint8]  # see `tile_values`
    clipped: float  # share of pixels next to white, 0…1
    black: float


def measure(path: Path, exposure_ev: float | None) -> Measures | None:
    """Of a JPEG, or of the picture that the body put into a RAW file; None where there is none that can be read."""
    try:
        with raw.embedded(path)[0] if path.suffix.lower() in raw.SUFFIXES else _jpeg(path) as image:
            image.draft("RGB", (EDGE, EDGE))
            codes = _without_bars(np.asarray(image.convert("RGB")))
    except (Unreadable, OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        return None
    if min(codes.shape[:2]) < 3 * max(TILES):
        return None
    return measured(luminance(codes), exposure_ev)


def _without_bars(codes: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Black beside a picture would keep its contrast in any fog."""
    shape = shape_between_bars(np.ascontiguousarray(codes.transpose(2, 0, 1)))
    edges = inside((codes.shape[1], codes.shape[0]), shape) if shape is not None else None
    return codes if edges is None else codes[edges[1] : edges[3], edges[0] : edges[2]]


def _jpeg(path: Path) -> Image.Image:
    return Image.open(path, formats=("JPEG",))


def luminance(codes: NDArray[np.uint8]) -> Light:
    """Linear, 0…1, (height, width), of sRGB codes (height, width, 3)."""
    return np.asarray(sum(_TABLES[channel][codes[..., channel]] for channel in range(3)))


def measured(light: Light, exposure_ev: float | None) -> Measures:
    """Of linear luminance 0…1."""
    mean = max(float(light.mean()), _DARKEST)
    low, high = (float(value) for value in np.percentile(light, (1, 99)))
    curved = laplacian(light / mean)
    return Measures(
        light=math.log2(mean) + (exposure_ev or 0.0),
        rms=_log2(float(light.std()) / mean),
        michelson=_log2((high - low) / max(high + low, _DARKEST)),
        sharp=_log2(float(curved.var())),
        tiles=_tiles(light, curved, mean),
        clipped=float((light > 0.98).mean()),
        black=float((light < 0.0015).mean()),
    )


def laplacian(light: Light) -> Light:
    """Four neighbours minus four times the pixel; one pixel less on each side."""
    middle = light[1:-1, 1:-1]
    return np.asarray(light[:-2, 1:-1] + light[2:, 1:-1] + light[1:-1, :-2] + light[1:-1, 2:] - 4 * middle)


def tile_values(kept: NDArray[np.uint8]) -> NDArray[np.float32]:
    """log2 of the sharpness of tiles, each against its own brightness, row after row."""
    return np.asarray(kept / np.float32(_STEP) + np.float32(_LEAST))


def _tiles(light: Light, curved: Light, mean: float) -> NDArray[np.uint8]:
    """As they are kept; what is left over at the right and lower edge belongs to none."""
    down, across = TILES
    height, width = curved.shape[0] // down, curved.shape[1] // across
    shape, part = (down, height, across, width), (slice(0, down * height), slice(0, across * width))
    own = np.maximum(light[1:-1, 1:-1][part].reshape(shape).mean(axis=(1, 3)) / mean, 0.01)
    sharp = curved[part].reshape(shape).var(axis=(1, 3)) / own**2
    values = np.log2(np.maximum(sharp, 2.0**_LEAST)).ravel()
    return np.asarray(np.clip(np.round((values - _LEAST) * _STEP), 0, 255), np.uint8)


def _log2(value: float) -> float:
    return math.log2(max(value, 2.0**_LEAST))
