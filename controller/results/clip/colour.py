"""Colours of a picture turned into sRGB: by its ICC profile (littleCMS does it), or as DCF has Adobe RGB told.

All else is taken as sRGB, which is what DCF (CIPA DC-009) has cameras write unless they are told otherwise.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageCms

from controller.results.clip.exif import BROKEN as DAMAGED
from controller.results.clip.tone import LINEAR, encode

Transform = Callable[[Image.Image], Image.Image]
"""From RGB codes of some space to those of sRGB."""

BROKEN = "a colour profile inside the pictures cannot be used; they are taken as sRGB"
TO_LINEAR: NDArray[np.uint16] = np.round(65535 * LINEAR).astype(np.uint16)
"""Light 0…65535 of each code of sRGB."""
TO_CODES: NDArray[np.uint8] = np.clip(np.round(encode(np.arange(65536) / 65535)), 0, 255).astype(np.uint8)
"""And back."""

_UNSEEN = 1.5  # codes; a transform that moves no colour by more is left out
# Adobe RGB (1998) Color Image Encoding, 4.3: its curve, and linear light to CIE XYZ with white D65
_ADOBE_LIGHT = ((np.arange(256) / 255) ** (563 / 256)).astype(np.float32)
_ADOBE_TO_XYZ = [[0.57667, 0.18556, 0.18823], [0.29734, 0.62736, 0.07529], [0.02703, 0.07069, 0.99134]]
_XYZ_TO_SRGB = [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]  # IEC 61966-2-1
_ADOBE_TO_SRGB = (np.array(_XYZ_TO_SRGB) @ np.array(_ADOBE_TO_XYZ)).T.astype(np.float32) * 65535


def transform_of(image: Image.Image) -> Transform | None:
    """What a picture needs that has been opened, not decoded; None where it is sRGB. Raises ValueError."""
    if image.mode != "RGB":
        return None
    profile = image.info.get("icc_profile")
    if profile:
        return to_srgb(profile)
    try:
        told = image.getexif().get_ifd(ExifTags.IFD.Interop).get(1)
    except DAMAGED:
        return None
    return from_adobe_rgb if told == "R03" else None  # InteroperabilityIndex of DCF's optional colour space


@lru_cache(maxsize=16)
def to_srgb(profile: bytes) -> Transform | None:
    """What turns RGB codes of this profile into sRGB's; None where they are that already. Raises ValueError.

    Relative colorimetric: white stays white, and what sRGB has too stays as it is.
    """
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if source.profile.xcolor_space != "RGB ":
            raise ValueError(f"it is for {source.profile.xcolor_space.strip()}")
        intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
        made = ImageCms.buildTransform(source, ImageCms.createProfile("sRGB"), "RGB", "RGB", intent)
    except (OSError, ImageCms.PyCMSError) as error:
        raise ValueError(" ".join(str(error).split())) from None
    transform = partial(_apply, made)
    codes = np.linspace(0, 255, 6).round().astype(np.uint8)
    grid = np.stack(np.meshgrid(codes, codes, codes), axis=-1).reshape(6, 36, 3)
    moved = np.asarray(transform(Image.fromarray(grid)), int) - grid
    return transform if np.abs(moved).max() > _UNSEEN else None


def from_adobe_rgb(image: Image.Image) -> Image.Image:
    """Colours that sRGB lacks are cut off."""
    light = _ADOBE_LIGHT[np.asarray(image)] @ _ADOBE_TO_SRGB
    return Image.fromarray(TO_CODES[np.clip(light, 0, 65535).round().astype(np.uint16)])


def _apply(made: ImageCms.ImageCmsTransform, image: Image.Image) -> Image.Image:
    turned = ImageCms.applyTransform(image, made)
    assert turned is not None  # only with inPlace
    return turned
