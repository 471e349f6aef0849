"""The pictures that a clip is made of: which file stands for which slot, and how it is read."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from controller.results.cameras import main_camera
from controller.words.documents import Frame, FrameState
from controller.words.layout import preview_path

Image.MAX_IMAGE_PIXELS = 400_000_000  # pictures of the largest bodies are no attack

JPEG = frozenset({".jpg", ".jpeg"})
LONG_EDGE, SHORT_EDGE = 1920, 1080  # what every player and every phone decodes in hardware
_SMALLEST = 16
_SAME_SHAPE = 0.05  # shapes that differ by less are cropped to each other, others are padded


class Unreadable(Exception):
    """A picture that cannot be used; the message says why, for people."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A slot of the clip and the file that shows it."""

    frame: Frame
    path: Path
    fetched: bool  # a full file; otherwise the preview


@dataclass(frozen=True, slots=True)
class Chosen:
    """A picture for each slot that has one, in order, and why each other slot has none, by seq."""

    camera: str
    slots: list[Frame]
    pictures: list[Picture]
    without: dict[int, str]
    remarks: list[str]


@dataclass(frozen=True, slots=True)
class Shape:
    """Pixels as they lie in the file, and the Exif orientation (1…8) that says how to turn them."""

    width: int
    height: int
    orientation: int

    @property
    def upright(self) -> tuple[int, int]:
        """Width and height once turned."""
        return (self.height, self.width) if self.orientation >= 5 else (self.width, self.height)

    def __str__(self) -> str:
        width, height = self.upright
        return f"{width}×{height}"


def choose(frames: Sequence[Frame], directory: Path, camera: str | None = None) -> Chosen:
    """Fetched JPEGs where most slots have one, with previews between; else previews, with fetched JPEGs between.

    A clip that changes between full files and small pictures every few frames would pulse in sharpness. It is of one
    camera: see `main_camera`, which raises BadInput.
    """
    named, camera = camera is not None, main_camera(frames, camera)
    slots = [frame for frame in frames if frame.camera == camera and frame.state != FrameState.DUE]
    full = {frame.seq: path for frame in slots if (path := _fetched(frame, directory)) is not None}
    small = {frame.seq: path for frame in slots if (path := _preview(frame, directory)) is not None}
    prefer_full = 2 * len(full) >= len(full.keys() | small.keys())
    pictures, without = [], {}
    for frame in slots:
        seq = frame.seq
        if seq in full and (prefer_full or seq not in small):
            pictures.append(Picture(frame, full[seq], True))
        elif seq in small:
            pictures.append(Picture(frame, small[seq], False))
        else:
            without[seq] = _why(frame)
    others = sorted({frame.camera for frame in frames} - {camera})
    too = f"frames of {camera} only; for {', '.join(others)} make another with --camera"
    remarks = [too] if others and not named else []
    return Chosen(camera, slots, pictures, without, remarks)


def shape(image: Image.Image) -> Shape:
    """Of a picture that has been opened, not decoded."""
    try:
        orientation = image.getexif().get(ExifTags.Base.Orientation, 1)
    except (OSError, SyntaxError, ValueError):
        orientation = 1
    valid = isinstance(orientation, int) and 1 <= orientation <= 8
    return Shape(*image.size, orientation if valid else 1)


def open_picture(path: Path) -> Image.Image:
    """Opened, not decoded. Raises Unreadable."""
    try:
        image = Image.open(io.BytesIO(path.read_bytes()), formats=("JPEG",))
    except FileNotFoundError:
        raise Unreadable("the file is missing") from None
    except UnidentifiedImageError:
        raise Unreadable("the file is no JPEG") from None
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise Unreadable(f"the file cannot be read ({_short(error)})") from None
    if min(image.size) < _SMALLEST:
        raise Unreadable(f"a picture of {image.width}×{image.height} pixels is too small")
    return image


def decode(image: Image.Image, at_least: tuple[int, int]) -> Image.Image:
    """RGB, read at the smallest scale that is at least this size in the file's own orientation. Raises Unreadable."""
    try:
        image.draft("RGB", at_least)
        image.load()
        return image if image.mode == "RGB" else image.convert("RGB")
    except (OSError, SyntaxError, ValueError) as error:
        raise Unreadable(f"the picture is damaged ({_short(error)})") from None


def clip_size(reference: Shape) -> tuple[int, int]:
    """Width and height of the clip for pictures of this shape: even, and no larger than a player decodes with ease."""
    width, height = reference.upright
    scale = min(1.0, LONG_EDGE / max(width, height), SHORT_EDGE / min(width, height))
    return _even(width * scale), _even(height * scale)


def render(path: Path, reference: Shape, size: tuple[int, int]) -> Image.Image:
    """The picture in RGB and the clip's size. Raises Unreadable.

    Pixels that lie as the reference's are turned as the reference is, whatever their own flag says: on a tripod a flag
    that changes in mid-shoot is a sensor of gravity that erred.
    """
    image = open_picture(path)
    own = shape(image)
    lies_alike = (own.width, own.height) == (reference.width, reference.height)
    orientation = reference.orientation if lies_alike else own.orientation
    wanted = size if orientation < 5 else size[::-1]
    upright = _turn(decode(image, wanted), orientation)
    return _fit(upright, size)


def _turn(image: Image.Image, orientation: int) -> Image.Image:
    # Exif 2.32, tag 274: what to do to the stored pixels so that they stand upright
    steps = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }
    return image.transpose(steps[orientation]) if orientation in steps else image


def _fit(image: Image.Image, size: tuple[int, int]) -> Image.Image:
    if image.size == size:
        return image
    if 0 <= image.width - size[0] <= 1 and 0 <= image.height - size[1] <= 1:
        return image.crop((0, 0, *size))  # an odd edge loses a line, and nothing is resampled
    # Hamming's window costs half of Lanczos', and is as sharp where a picture gets smaller
    way = Image.Resampling.HAMMING if image.width > size[0] else Image.Resampling.LANCZOS
    shapes = image.width / image.height, size[0] / size[1]
    if abs(shapes[0] / shapes[1] - 1) < _SAME_SHAPE:
        return ImageOps.fit(image, size, way)
    return ImageOps.pad(image, size, way)


def _even(edge: float) -> int:
    return max(2, 2 * int((edge + 1e-6) / 2))


def _fetched(frame: Frame, directory: Path) -> Path | None:
    if frame.local_file is None or Path(frame.local_file).suffix.lower() not in JPEG:
        return None
    path = directory / frame.local_file
    return path if path.is_file() else None


def _preview(frame: Frame, directory: Path) -> Path | None:
    if not frame.preview:
        return None
    path = directory / preview_path(frame.shoot, frame.seq, frame.camera)
    return path if path.is_file() else None


def _why(frame: Frame) -> str:
    if frame.state in (FrameState.MISSED, FrameState.LOST):
        return f"{frame.state.value}, {frame.cause}" if frame.cause else frame.state.value
    if frame.local_file is None:
        return "only on the card"
    if Path(frame.local_file).suffix.lower() not in JPEG:
        return "fetched as RAW only"
    if frame.rig_freed_utc is not None:
        return f"its file was deleted from the rig, and is in {(frame.copies or 'a second place').replace(' ', ', ')}"
    return "the file is missing"


def _short(error: Exception) -> str:
    return " ".join(str(error).split()) or type(error).__name__
