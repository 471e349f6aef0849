"""RAW files, read by LibRaw: the JPEG inside them, or their own development in linear light.

rawpy is loaded by the first call, so that a clip of JPEGs does without it.
"""

from __future__ import annotations

import contextlib
import io
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from controller.results.clip.geometry import Shape, Size
from controller.results.clip.reading import Unreadable, open_jpeg, orientation, short

if TYPE_CHECKING:
    import rawpy

Linear = NDArray[np.uint16]
"""(height, width, 3), light 0…65535 with the primaries of BT.709 and white at D65, as sRGB has them."""

SUFFIXES = frozenset(
    ".3fr .arw .cr2 .cr3 .crw .dcr .dng .erf .fff .iiq .k25 .kdc .mef .mos .mrw .nef .nrw .orf .pef .raf .raw .rw2 .rwl"
    " .sr2 .srf .srw .x3f".split()
)
_SAMPLED = 9  # RAW files, spread over the shoot, that the one white balance and scale are taken from
# LibRaw's flip, which is dcraw's, as Exif's orientation
_EXIF = {0: 1, 1: 2, 2: 4, 3: 3, 4: 5, 5: 8, 6: 6, 7: 7}
_one_at_a_time = threading.Lock()  # a development of 24 megapixels takes some 300 MB while it is made


@dataclass(frozen=True, slots=True)
class Development:
    """What is the same for every picture of a clip, so that none differs from the next by more than its light.

    `balance`: factors of red, green and blue; `scale`: the value over black that becomes 65535.
    """

    balance: tuple[float, float, float]
    scale: float


def development(paths: Sequence[Path]) -> Development | None:
    """The median white balance of the bodies' own, and the smallest scale, of a few files spread over the shoot.

    The smallest, so that white is white in all of them; but not of a file whose head is damaged, far from all others.
    None where no file can be read.
    """
    places = sorted({round(place) for place in np.linspace(0, len(paths) - 1, min(_SAMPLED, len(paths)))})
    balances, scales = [], []
    for place in places:
        with contextlib.suppress(Unreadable), _opened(paths[place]) as raw:
            scale = raw.white_level - _black(raw)
            if scale > 0:
                balances.append(_balance(raw))
                scales.append(scale)
    if not balances:
        return None
    red, green, blue = (float(value) for value in np.median(balances, axis=0))
    return Development((red, green, blue), min(scale for scale in scales if scale >= np.median(scales) / 2))


def shape(path: Path) -> Shape:
    """Of the development in full size. Raises Unreadable."""
    with _opened(path) as raw:
        return _shape(raw)


def develop(path: Path, at_least: Size, how: Development) -> Linear:
    """As the sensor's pixels lie; in half the size, one pixel for each 2 × 2, where that is at least so large.

    No curve, no brightening, no highlight that is made up. Raises Unreadable.
    """
    with _one_at_a_time, _opened(path) as raw:
        sizes = raw.sizes
        half = sizes.width // 2 >= at_least[0] and sizes.height // 2 >= at_least[1]
        red, green, blue = how.balance
        developed = raw.postprocess(
            gamma=(1, 1),
            output_bps=16,
            no_auto_bright=True,
            adjust_maximum_thr=0.0,  # otherwise white is where this picture's brightest pixel is
            user_wb=[red, green, blue, green],
            user_flip=0,
            half_size=half,
        )
        factor = (raw.white_level - _black(raw)) / how.scale
    light = np.asarray(developed, np.uint16)
    if light.shape[2] != 3:  # a sensor without colour filters
        light = np.repeat(light[..., :1], 3, axis=2)
    return light if factor == 1 else np.minimum(light * np.float32(factor), 65535).astype(np.uint16)


def embedded(path: Path) -> tuple[Image.Image, Shape]:
    """The largest picture that the body put into the RAW file, opened, not decoded. Raises Unreadable."""
    import rawpy

    with _opened(path) as raw:
        try:
            thumb = raw.extract_thumb()
        except (rawpy.LibRawNoThumbnailError, rawpy.LibRawUnsupportedThumbnailError, NotImplementedError, OSError):
            # rawpy's NotImplementedError: a picture in HEVC, as bodies set to HDR write; OSError: one of a few bytes
            raise Unreadable("the RAW file has no picture inside that can be read") from None
        outer = _shape(raw)
    image = open_jpeg(io.BytesIO(thumb.data)) if isinstance(thumb.data, bytes) else Image.fromarray(thumb.data)
    lying = Shape(*image.size, orientation(image) or outer.orientation)  # LibRaw gives a JPEG without Exif the RAW's
    if _is_tall(lying) != _is_tall(outer):
        lying = Shape(*image.size, 1)  # the body has turned it already
    return image, lying


def _is_tall(shape: Shape) -> bool:
    width, height = shape.upright
    return height > width


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[rawpy.RawPy]:
    import rawpy

    if not path.is_file():
        raise Unreadable("the file is missing")
    try:
        with rawpy.imread(str(path)) as raw:
            yield raw
    except rawpy.LibRawFileUnsupportedError:
        raise Unreadable("the RAW file is cut short, or of a kind that LibRaw does not know") from None
    except (rawpy.LibRawIOError, rawpy.LibRawDataError):
        raise Unreadable("the RAW file is cut short or damaged") from None
    except rawpy.LibRawError as error:
        raise Unreadable(f"the RAW file cannot be read ({_text(error)})") from None


def _shape(raw: rawpy.RawPy) -> Shape:
    return Shape(raw.sizes.width, raw.sizes.height, _EXIF.get(raw.sizes.flip, 1))


def _balance(raw: rawpy.RawPy) -> tuple[float, float, float]:
    """The body's own factors, green's as 1; daylight's where it tells none."""
    for factors in (raw.camera_whitebalance, raw.daylight_whitebalance):
        red, green, blue = factors[:3]
        if min(red, green, blue) > 0:
            return red / green, 1.0, blue / green
    return 1.0, 1.0, 1.0


def _black(raw: rawpy.RawPy) -> float:
    return float(np.mean(raw.black_level_per_channel))


def _text(error: Exception) -> str:
    first = error.args[0] if error.args else error
    return first.decode(errors="replace") if isinstance(first, bytes) else short(error)
