"""From pictures to the frames of a film: cut, made lighter or darker in linear light, mixed, dithered, written on.

Two ways lead there. Eight bits in and eight out go by tables over codes, which is quick. All else goes through light of
sixteen bits: mixed frames, ten bits, developed RAW files.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from controller.results.clip import overlay
from controller.results.clip.colour import TO_CODES, TO_LINEAR
from controller.results.clip.film import WHITE16, planes
from controller.results.clip.geometry import Canvas
from controller.results.clip.options import ClipOptions, Window
from controller.results.clip.pictures import Kind, Picture
from controller.results.clip.reader import Decoded, Reader
from controller.results.clip.reading import Unreadable
from controller.results.clip.retime import mix
from controller.results.clip.shots import Layer, Shot
from controller.results.clip.tone import Bytes, Dither, Floats, encode, histogram, log2_luminance, log2_luminance_deep

Light = NDArray[np.uint16]

_MEASURED_EDGE = 200  # pixels that are enough to know how light a frame is
_CODES16: Floats = 256 * encode(np.arange(65536) / 65535)  # of sRGB, by light
_WHOLE: Light = np.arange(65536, dtype=np.uint16)
_BAND = 64
_KEPT = 3  # decoded pictures that wait for the next frame that shows them


@dataclass(frozen=True, slots=True)
class Drawn:
    """A frame for the encoder, log2 of its mean luminance, the places it shows, and those that could not be read."""

    frame: av.VideoFrame
    level: float
    before: float  # of the same pixels as they were: the same window, bars and mixture, without any curve
    shown: tuple[int, ...]
    lost: dict[int, str]


class Painter:
    """Draws the frames of one clip. Threads may share it."""

    def __init__(self, reader: Reader, pictures: Sequence[Picture], canvas: Canvas, options: ClipOptions) -> None:
        self._pictures, self._bits = pictures, options.bits
        self._recent = _Recent(lambda place: reader.decode(pictures[place], canvas), _KEPT)
        self._again = options.retime != "off"  # a picture may be shown more than once
        self._decode: Callable[[int], Decoded] = lambda place: reader.decode(pictures[place], canvas)
        self._dither = Dither(*canvas.size)
        self._deep = DeepDither(*canvas.size, options.bits)
        self._sparse = max(1, min(canvas.size) // _MEASURED_EDGE)

    def draw(self, shot: Shot) -> Drawn:
        """Raises Unreadable where no picture of it can be read."""
        lost: dict[int, str] = {}
        found: list[tuple[Layer, Decoded]] = []
        for layer in shot.layers:
            try:
                found.append((layer, (self._recent.get if self._again else self._decode)(layer.place)))
            except Unreadable as error:
                lost[layer.place] = str(error)
        if not found:
            raise Unreadable(next(iter(lost.values())))
        pixels, was = self._pixels(shot, found)
        level = self._level(pixels)  # without what is written on
        if shot.lines:
            overlay.burn_codes(pixels, shot.lines, 255 if pixels.dtype == np.uint8 else WHITE16)
        shown = tuple(layer.place for layer, _ in found)
        before = level if was is None else log2_luminance(histogram(was))
        return Drawn(planes(pixels, self._bits), level, before, shown, lost)

    def _pixels(self, shot: Shot, found: Sequence[tuple[Layer, Decoded]]) -> tuple[Bytes | Light, Bytes | None]:
        """And a sample of the codes that they would have without curves; None where there are none."""
        (layer, decoded), *more = found
        if not more and self._bits == 8 and self._pictures[layer.place].kind is not Kind.DEVELOPED:
            image = decoded.image(shot.window)
            if layer.curve is not None:
                was = np.asarray(self._sampled(np.asarray(image)))
                return self._dither.apply_curve(image, layer.curve, shot.number), was
            return np.array(image) if shot.lines else np.asarray(image), None
        lit = _Lit.of(decoded, layer.curve, shot.window)
        sample = lit.plain(self._sparse)
        layers = [(lit, 1.0)]
        for other, seen in more:
            lit = _Lit.of(seen, other.curve, shot.window)
            sample = mix(sample, lit.plain(self._sparse), other.share)
            layers.append((lit, other.share))

        def light(some: slice) -> Light:
            mixed = layers[0][0].rows(some)
            for later, share in layers[1:]:
                mixed = mix(mixed, later.rows(some), share)
            return mixed

        return self._deep.apply(light, shot.number), None if layer.curve is None else TO_CODES[sample]

    def _level(self, pixels: Bytes | Light) -> float:
        """log2 of the mean luminance."""
        sample = self._sampled(pixels)
        return log2_luminance(histogram(sample)) if sample.dtype == np.uint8 else log2_luminance_deep(sample)

    def _sampled(self, pixels: Any) -> Any:
        return pixels[:: self._sparse, :: self._sparse]


@dataclass(frozen=True, slots=True)
class _Lit:
    """A picture and the light that its values become, some rows at a time: 10 MB less for each at 1080p than all."""

    picture: Bytes | Light
    tables: list[Light]  # of all channels, or of each

    @classmethod
    def of(cls, decoded: Decoded, curve: Floats | None, window: Window) -> _Lit:
        """`curve` is given by 8-bit codes; none: light as it is."""
        picture: Bytes | Light
        if isinstance(decoded.pixels, Image.Image):
            picture, own = np.asarray(decoded.image(window)), TO_LINEAR
        else:
            picture, own = decoded.linear(window), _WHOLE
        if curve is None:
            return cls(picture, [own])
        codes = _CODES16[own] / 256
        curves = [np.interp(codes, np.arange(256), one) for one in np.atleast_2d(curve)]
        return cls(picture, [np.round(65535 * one).astype(np.uint16) for one in curves])

    def plain(self, step: int) -> Light:
        """Every so many pixels, without the curve."""
        part: Any = self.picture[::step, ::step]
        light: Light = TO_LINEAR[part] if part.dtype == np.uint8 else part
        return light

    def rows(self, some: slice) -> Light:
        """Light through the curve."""
        part = self.picture[some]
        light = np.empty(part.shape, np.uint16)
        for channel in range(3):
            light[..., channel] = self.tables[channel % len(self.tables)][part[..., channel]]
        return light


def _bands(rows: int) -> Iterator[slice]:
    """Some rows at a time: numpy makes indices of eight bytes of a whole picture's, and sums of four."""
    return (slice(first, first + _BAND) for first in range(0, rows, _BAND))


class DeepDither:
    """From light of 16 bits to codes of 16 bits that carry a film's fewer bits: what these cannot hold becomes noise.

    The noise is the same in the three colours, so that all of it is in the luminance; it is one step of the film wide.
    """

    def __init__(self, width: int, height: int, bits: int) -> None:
        self._shape = (height, width)
        self._slack = 65_536
        step = WHITE16 / (219 * 2 ** (bits - 8))
        noise = np.random.default_rng(20_261_202).uniform(-step / 2, step / 2, width * height + self._slack)
        self._noise = np.round(noise).astype(np.int16)
        self._codes = np.round(_CODES16).astype(np.int32)

    def apply(self, light: Callable[[slice], Light], number: int) -> Light:
        """(height, width, 3) R'G'B'; `light` gives some rows of it, `number` of the frame moves the noise."""
        start = number * 7919 % self._slack
        noise = self._noise[start : start + self._shape[0] * self._shape[1]].reshape(*self._shape, 1)
        out = np.empty((*self._shape, 3), np.uint16)
        for some in _bands(self._shape[0]):
            codes = self._codes[light(some)]
            codes += noise[some]
            out[some] = np.clip(codes, 0, 65535, out=codes)
        return out


class _Recent:
    """What was made last, for threads that ask for the same at the same time."""

    def __init__(self, make: Callable[[int], Any], size: int) -> None:
        self._make, self._size = make, size
        self._lock = threading.Lock()
        self._made: OrderedDict[int, Future[Any]] = OrderedDict()

    def get(self, key: int) -> Any:
        with self._lock:
            future = self._made.get(key)
            mine = future is None
            if future is None:
                future = self._made[key] = Future()
                while len(self._made) > self._size:
                    self._made.popitem(last=False)
        if mine:
            try:
                future.set_result(self._make(key))
            except BaseException as error:  # noqa: BLE001 - whoever waits for it gets it too
                future.set_exception(error)
        return future.result()
