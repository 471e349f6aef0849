"""Colours of a picture turned into sRGB, as its ICC profile says (ICC.1; littleCMS does it).

A picture without a profile is taken as sRGB, which is what DCF has cameras write unless they are told otherwise.
"""

from __future__ import annotations

import io
from functools import lru_cache

import numpy as np
from PIL import Image, ImageCms

BROKEN = "a colour profile inside the pictures cannot be used; they are taken as sRGB"
_UNSEEN = 1.5  # codes; a transform that moves no colour by more is left out


@lru_cache(maxsize=16)
def to_srgb(profile: bytes) -> ImageCms.ImageCmsTransform | None:
    """What turns RGB codes of this profile into sRGB's; None where they are that already. Raises ValueError.

    Relative colorimetric: white stays white, and what sRGB has too stays as it is.
    """
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if source.profile.xcolor_space != "RGB ":
            raise ValueError(f"it is for {source.profile.xcolor_space.strip()}")
        intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
        transform = ImageCms.buildTransform(source, ImageCms.createProfile("sRGB"), "RGB", "RGB", intent)
    except (OSError, ImageCms.PyCMSError) as error:
        raise ValueError(" ".join(str(error).split())) from None
    codes = np.linspace(0, 255, 6).round().astype(np.uint8)
    grid = np.stack(np.meshgrid(codes, codes, codes), axis=-1).reshape(6, 36, 3)
    turned = np.asarray(ImageCms.applyTransform(Image.fromarray(grid), transform), int)
    return transform if np.abs(turned - grid).max() > _UNSEEN else None


def apply(image: Image.Image, transform: ImageCms.ImageCmsTransform | None) -> Image.Image:
    """RGB in sRGB; the same picture where there is nothing to do."""
    if transform is None:
        return image
    turned = ImageCms.applyTransform(image, transform)
    assert turned is not None  # only with inPlace
    return turned
