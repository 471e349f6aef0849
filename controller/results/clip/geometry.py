"""Where a clip looks: how pictures stand upright, its size, the window and its way. No pixel is read here."""

from __future__ import annotations

from dataclasses import dataclass, field

from PIL import Image

from controller.results.clip.options import WHOLE, ClipOptions, Window
from controller.words.errors import BadInput

LONG_EDGE, SHORT_EDGE = 1920, 1080  # what every player and every phone decodes in hardware
SAME_SHAPE = 0.05  # shapes that differ by less are cropped to each other, others are padded
# Width and height: a macroblock; and what x265 needs, which spoils its memory in a film of 48 or fewer pixels across,
# and takes the process with it
_SMALLEST = {"h264": (16, 16), "hevc": (64, 32)}
_ENLARGED = 1.02  # by less than this nobody sees it

Size = tuple[int, int]
Box = tuple[float, float, float, float]
"""Left, upper, right, lower edge in pixels, as fractions of pixels too."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Pixels as they lie in the file, and the Exif orientation (1…8) that says how to turn them."""

    width: int
    height: int
    orientation: int

    @property
    def upright(self) -> Size:
        """Width and height once turned."""
        return (self.height, self.width) if self.orientation >= 5 else (self.width, self.height)

    def __str__(self) -> str:
        width, height = self.upright
        return f"{width}×{height}"


# Exif 2.32, tag 274: what to do to the stored pixels so that they stand upright
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


def window_at(options: ClipOptions, place: int, of: int) -> Window:
    """The window of frame `place` (from 0) of a clip of `of` frames: it moves evenly from `crop` to `pan_to`."""
    begin = options.crop or WHOLE
    end = options.pan_to or begin
    if begin == end:
        return begin
    share = place / (of - 1) if of > 1 else 0.0
    x, y, w, h = (a + (b - a) * share for a, b in zip(_edges(begin), _edges(end), strict=True))
    return Window(x=x, y=y, w=min(w, 1 - x), h=min(h, 1 - y))  # rounding may carry it over the edge


def clip_size(reference: Shape, options: ClipOptions | None = None) -> Size:
    """Width and height of the clip: even, and no larger than the window's pixels, `size`, or what players take."""
    width, height = _pixels(reference, _widest(options))
    if options is None or options.size is None:
        scale = min(1.0, LONG_EDGE / max(width, height), SHORT_EDGE / min(width, height))
    else:
        scale = min(1.0, options.size[0] / width, options.size[1] / height)
    return _even(width * scale), _even(height * scale)


@dataclass(frozen=True)
class Canvas:
    """The frame that every picture of a clip is brought into. `remarks`, for people: what it could not be."""

    reference: Shape
    size: Size
    options: ClipOptions | None = None
    remarks: tuple[str, ...] = ()
    narrowest: Window = field(default=WHOLE)

    @classmethod
    def of(cls, reference: Shape, options: ClipOptions | None = None) -> Canvas:
        """For pictures that mostly are of the shape `reference`."""
        size, narrow = clip_size(reference, options), _narrowest(options)
        said = []
        if options is not None and options.size is not None:
            wide = _pixels(reference, _widest(options))
            if options.size[0] > _ENLARGED * wide[0] and options.size[1] > _ENLARGED * wide[1]:
                wanted, there = _text(options.size), _text(wide)
                said.append(f"{wanted} would be larger than the pictures, which show {there} pixels; not enlarged")
        pixels = _pixels(reference, narrow)
        if size[0] > _ENLARGED * pixels[0]:
            said.append(f"where the window is narrowest, {_text(pixels)} pixels are enlarged to {_text(size)}")
        return cls(reference, size, options, tuple(said), narrow)

    def check(self) -> None:
        """Raises BadInput where the encoder makes no film so small."""
        codec = self.options.codec if self.options is not None else "h264"
        least = _SMALLEST[codec]
        if self.size[0] < least[0] or self.size[1] < least[1]:
            what = f"the film would have {_text(self.size)} pixels, and {codec} needs {_text(least)}"
            raise BadInput("bad-clip", what, "size", "Give a larger window or size")

    @property
    def moves(self) -> bool:
        """Whether the window is not the same throughout."""
        return self.options is not None and self.options.pan_to not in (None, self.options.crop or WHOLE)

    @property
    def at_least(self) -> Size:
        """Pixels of the whole upright picture that the narrowest window needs; the same for every frame, so that
        sharpness stays the same on the way."""
        return round(self.size[0] / self.narrowest.w), round(self.size[1] / self.narrowest.h)

    def window(self, place: int, of: int) -> Window:
        """Of frame `place` of `of`."""
        return window_at(self.options, place, of) if self.options is not None else WHOLE

    def orientation(self, own: Shape) -> int:
        """How a picture is turned: pixels that lie as the reference's are turned as the reference is.

        On a tripod a flag that changes in mid-shoot is a sensor of gravity that erred.
        """
        alike = (own.width, own.height) == (self.reference.width, self.reference.height)
        return self.reference.orientation if alike else own.orientation

    def padded(self, upright: Size) -> Size:
        """The size that a picture needs bars to, so that it has the reference's shape: its own where it nearly has."""
        width, height = upright
        wanted = self.reference.upright[0] / self.reference.upright[1]
        if abs(width / height / wanted - 1) < SAME_SHAPE:
            return upright
        return (width, round(width / wanted)) if width / height > wanted else (round(height * wanted), height)

    def box(self, upright: Size, window: Window) -> Box:
        """What `window` is in a picture of `upright` pixels that has nearly the reference's shape, cut to that shape.

        Whole pixels where nothing needs resampling: an odd edge loses a line instead.
        """
        width, height = float(upright[0]), float(upright[1])
        wanted = self.reference.upright[0] / self.reference.upright[1]
        off = width / height / wanted
        if abs(width - height * wanted) >= 1 and abs(height - width / wanted) >= 1:  # not just rounding
            width, height = (height * wanted, height) if off > 1 else (width, width / wanted)
        left, upper = (upright[0] - width) / 2 + window.x * width, (upright[1] - height) / 2 + window.y * height
        w, h = window.w * width, window.h * height
        if not self.moves and 0 <= w + 1e-6 - self.size[0] < 2 and 0 <= h + 1e-6 - self.size[1] < 2:
            left, upper, (w, h) = round(left - 0.25), round(upper - 0.25), self.size
            left, upper = min(left, upright[0] - w), min(upper, upright[1] - h)
        return left, upper, min(left + w, upright[0]), min(upper + h, upright[1])

    def way(self, box: Box) -> Image.Resampling:
        """How to resample. Hamming's window costs half of Lanczos', and is as sharp where a picture gets smaller; but
        contrast would come and go as it moves over pixels that are shown about one to one."""
        smaller = box[2] - box[0] > self.size[0]
        return Image.Resampling.HAMMING if smaller and not self.moves else Image.Resampling.LANCZOS


def _edges(window: Window) -> tuple[float, float, float, float]:
    return window.x, window.y, window.w, window.h


def _widest(options: ClipOptions | None) -> Window:
    windows = [w for w in (options.crop or WHOLE, options.pan_to) if w is not None] if options is not None else [WHOLE]
    return max(windows, key=lambda window: window.w)


def _narrowest(options: ClipOptions | None) -> Window:
    windows = [w for w in (options.crop or WHOLE, options.pan_to) if w is not None] if options is not None else [WHOLE]
    return min(windows, key=lambda window: window.w)


def _pixels(reference: Shape, window: Window) -> tuple[float, float]:
    width, height = reference.upright
    return width * window.w, height * window.h


def _text(size: tuple[float, float]) -> str:
    return f"{round(size[0])}×{round(size[1])}"


def _even(edge: float) -> int:
    return max(2, 2 * int((edge + 1e-6) / 2))
