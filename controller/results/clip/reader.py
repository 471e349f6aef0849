"""One way to read a clip's pictures, whatever they come from: upright, in sRGB, at the clip's size."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from PIL import Image, ImageOps

from controller.results.clip import raw
from controller.results.clip.colour import BROKEN, TO_CODES, TO_LINEAR, Transform, transform_of
from controller.results.clip.geometry import TURNS, Canvas, Shape, Size
from controller.results.clip.options import WHOLE, Window
from controller.results.clip.pictures import Kind, Picture
from controller.results.clip.raw import Linear
from controller.results.clip.reading import Unreadable, decode, opened, shape
from controller.results.clip.small import inside


@dataclass(frozen=True)
class Decoded:
    """A picture that stands upright, to be brought into the canvas as often as wanted."""

    pixels: Image.Image | Linear  # codes as the file has them, or light
    canvas: Canvas
    transform: Transform | None = None
    cut: bool = False  # already in the canvas

    def settled(self) -> Decoded:
        """The same, no larger than the clip where its window stands still: a few of them wait at a time."""
        if self.canvas.moves:
            return self
        window = self.canvas.window(0, 1)
        if isinstance(self.pixels, Image.Image):
            return replace(self, pixels=_cut(self.pixels, self.canvas, window), cut=True)
        return replace(self, pixels=self.linear(window), cut=True)

    def image(self, window: Window = WHOLE) -> Image.Image:
        """8-bit RGB in sRGB, at the clip's size."""
        if isinstance(self.pixels, Image.Image):
            fitted = self.pixels if self.cut else _cut(self.pixels, self.canvas, window)
            return self.transform(fitted) if self.transform is not None else fitted
        return Image.fromarray(TO_CODES[self.linear(window)])

    def linear(self, window: Window = WHOLE) -> Linear:
        """Linear light, at the clip's size: resampled in light where the picture is in light."""
        if isinstance(self.pixels, Image.Image):
            return np.asarray(TO_LINEAR[np.asarray(self.image(window))])
        if self.cut:
            return self.pixels
        planes = [Image.fromarray(np.ascontiguousarray(self.pixels[..., channel])) for channel in range(3)]
        return np.stack([np.asarray(_cut(plane, self.canvas, window)) for plane in planes], axis=-1)


@dataclass
class Reader:
    """Reads the pictures of one clip; threads may share it. `remarks`, for people, grow while it reads."""

    remarks: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._lock = threading.Lock()

    def shape(self, picture: Picture) -> Shape:
        """Of the pixels as they lie in the file, of which only the head is read. Raises Unreadable."""
        if picture.kind is Kind.DEVELOPED:
            return raw.shape(picture.path)
        with _opened(picture) as (_, own):
            return _within(own, picture)

    def look(self, picture: Picture, edge: int) -> tuple[Shape, Image.Image]:
        """Its shape in the file, and RGB in sRGB, small: at least `edge` pixels wide and high. Raises Unreadable."""
        if picture.kind is Kind.DEVELOPED:
            own, light = raw.shape(picture.path), self._light(picture, (edge, edge))
            step = max(1, min(light.shape[:2]) // edge)
            rows, columns = (side // step * step for side in light.shape[:2])
            small = light[:rows, :columns].reshape(rows // step, step, columns // step, step, 3).mean(axis=(1, 3))
            return own, Image.fromarray(TO_CODES[small.round().astype(np.uint16)])
        with _opened(picture) as (image, own):
            transform = self._transform(image)
            small = _inside(decode(image, (edge, edge)), picture)
            return _within(own, picture), transform(small) if transform is not None else small

    def decode(self, picture: Picture, canvas: Canvas) -> Decoded:
        """As large as the canvas needs it, not larger than the file has it. Raises Unreadable."""
        if picture.kind is Kind.DEVELOPED:
            way = canvas.orientation(raw.shape(picture.path))
            return stood(self._light(picture, _lying(canvas.at_least, way)), way, canvas).settled()
        with _opened(picture) as (image, own):
            way, transform = canvas.orientation(_within(own, picture)), self._transform(image)
            pixels = _inside(decode(image, _lying(canvas.at_least, way)), picture)
            return stood(pixels, way, canvas, transform).settled()

    def _light(self, picture: Picture, at_least: Size) -> Linear:
        if picture.how is None:
            raise Unreadable("no RAW file of the shoot can be read")
        return raw.develop(picture.path, at_least, picture.how)

    def _transform(self, image: Image.Image) -> Transform | None:
        try:
            return transform_of(image)
        except ValueError:
            with self._lock:
                if BROKEN not in self.remarks:
                    self.remarks.append(BROKEN)
            return None


@contextlib.contextmanager
def _opened(picture: Picture) -> Iterator[tuple[Image.Image, Shape]]:
    if picture.kind is Kind.EMBEDDED:
        yield raw.embedded(picture.path)
    else:
        with opened(picture.path) as image:
            yield image, shape(image)


def _within(own: Shape, picture: Picture) -> Shape:
    """Without the black bars of a preview."""
    edges = inside((own.width, own.height), picture.between) if picture.between is not None else None
    return own if edges is None else Shape(edges[2] - edges[0], edges[3] - edges[1], own.orientation)


def _inside(image: Image.Image, picture: Picture) -> Image.Image:
    """The same of its pixels."""
    edges = inside(image.size, picture.between) if picture.between is not None else None
    return image if edges is None else image.crop(edges)


def stood(
    pixels: Image.Image | Linear,
    orientation: int,
    canvas: Canvas,
    transform: Transform | None = None,
) -> Decoded:
    """Turned by Exif's orientation (1…8), with bars where the picture is of another shape than the canvas."""
    if isinstance(pixels, Image.Image):
        upright = pixels.transpose(TURNS[orientation]) if orientation in TURNS else pixels
        padded = canvas.padded(upright.size)
        return Decoded(upright if padded == upright.size else ImageOps.pad(upright, padded), canvas, transform)
    light = pixels.transpose(1, 0, 2) if orientation >= 5 else pixels
    if orientation in (2, 3, 6, 7):
        light = light[:, ::-1]
    if orientation in (3, 4, 7, 8):
        light = light[::-1]
    height, width = light.shape[:2]
    padded = canvas.padded((width, height))
    across, down = padded[0] - width, padded[1] - height
    bars = (down // 2, down - down // 2), (across // 2, across - across // 2), (0, 0)
    return Decoded(np.pad(light, bars) if across or down else light, canvas)


def _lying(upright: Size, orientation: int) -> Size:
    return upright[::-1] if orientation >= 5 else upright


def _cut(image: Image.Image, canvas: Canvas, window: Window) -> Image.Image:
    box = canvas.box(image.size, window)
    if all(float(edge).is_integer() for edge in box) and (box[2] - box[0], box[3] - box[1]) == canvas.size:
        whole = tuple(int(edge) for edge in box)
        return image if whole == (0, 0, *image.size) else image.crop(whole)  # type: ignore[arg-type]
    return image.resize(canvas.size, canvas.way(box), box)
