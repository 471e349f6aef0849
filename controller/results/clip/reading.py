"""JPEGs as they come: opened, decoded no larger than needed, or told why not."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from PIL import ExifTags, Image, UnidentifiedImageError

from controller.results.clip.exif import BROKEN
from controller.results.clip.geometry import Shape, Size

Image.MAX_IMAGE_PIXELS = 400_000_000  # pictures of the largest bodies are no attack
_SMALLEST = 16


class Unreadable(Exception):
    """A picture that cannot be used; the message says why, for people."""


@contextlib.contextmanager
def opened(path: Path) -> Iterator[Image.Image]:
    """A JPEG of which only the head has been read, to be decoded while the context lasts. Raises Unreadable."""
    try:
        file = path.open("rb")
    except FileNotFoundError:
        raise Unreadable("the file is missing") from None
    except OSError as error:
        raise Unreadable(f"the file cannot be read ({short(error)})") from None
    with file:
        yield open_jpeg(file)


def open_jpeg(file: BinaryIO) -> Image.Image:
    """Raises Unreadable."""
    try:
        image = Image.open(file, formats=("JPEG",))
    except UnidentifiedImageError:
        raise Unreadable("the file is no JPEG") from None
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise Unreadable(f"the file cannot be read ({short(error)})") from None
    if min(image.size) < _SMALLEST:
        raise Unreadable(f"a picture of {image.width}×{image.height} pixels is too small")
    return image


def orientation(image: Image.Image) -> int | None:
    """Exif's (1…8) of a picture that has been opened, not decoded; None where it tells none."""
    try:
        found = image.getexif().get(ExifTags.Base.Orientation)
    except BROKEN:
        return None
    return found if isinstance(found, int) and 1 <= found <= 8 else None


def shape(image: Image.Image) -> Shape:
    """Of a picture that has been opened, not decoded."""
    return Shape(*image.size, orientation(image) or 1)


def decode(image: Image.Image, at_least: Size) -> Image.Image:
    """RGB, read at the smallest scale that is at least this size in the file's own orientation. Raises Unreadable."""
    try:
        image.draft("RGB", at_least)
        image.load()
        return image if image.mode == "RGB" else image.convert("RGB")
    except (OSError, SyntaxError, ValueError) as error:
        raise Unreadable(f"the picture is damaged ({short(error)})") from None


def short(error: Exception) -> str:
    """An error of a library in one line."""
    return " ".join(str(error).split()) or type(error).__name__
