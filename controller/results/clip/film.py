"""A film file: H.264 in MP4 that plays everywhere, and starts before it has been loaded."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from types import TracebackType

import av
import numpy as np
from av.video.reformatter import Colorspace, Interpolation
from numpy.typing import NDArray

from controller.words.errors import BadInput, DuskhandError

SUFFIXES = frozenset({".mp4", ".m4v", ".mov"})
_BT709 = 1  # ITU-T H.273: primaries, transfer and matrix of BT.709
_LIMITED = 1  # codes 16…235, what players expect
_EXACT = Interpolation.BICUBIC | Interpolation.ACCURATE_RND | Interpolation.FULL_CHR_H_INP


def check_target(out: Path) -> None:
    """Raises BadInput where a film cannot be written to `out`."""
    if out.suffix.lower() not in SUFFIXES:
        raise BadInput("not-writable", "a clip is an MP4 file", str(out), "End its name with .mp4")
    if out.is_dir() or not out.parent.is_dir():
        what = "this is a directory" if out.is_dir() else "there is no such directory"
        raise BadInput("not-writable", what, str(out if out.is_dir() else out.parent), "Choose another file with --out")
    if not os.access(out.parent, os.W_OK):
        raise BadInput("not-writable", "this user may not write there", str(out.parent), "Choose another with --out")


class Film:
    """A context: frames are added in order; the file appears whole when it ends well, and not at all otherwise."""

    def __init__(self, out: Path, width: int, height: int, fps: float, title: str) -> None:
        """`width` and `height` are even. Raises DuskhandError('clip-failed')."""
        self._out = out
        self._part = out.with_name(f".{out.name}.part")
        self._number = 0
        rate = Fraction(fps).limit_denominator(1001)
        with self._told():
            self._container = av.open(str(self._part), "w", format="mp4", options={"movflags": "+faststart"})
            self._container.metadata["title"] = title
            stream = self._container.add_stream("libx264", rate=rate, options={"preset": "veryfast", "crf": "20"})
            stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
            context = stream.codec_context
            context.gop_size = max(1, round(2 * fps))  # two seconds between points to seek to
            context.colorspace = context.color_primaries = context.color_trc = _BT709
            context.color_range = _LIMITED
            self._stream = stream

    def add(self, pixels: NDArray[np.uint8]) -> None:
        """The next frame, (height, width, 3) RGB. Raises DuskhandError('clip-failed')."""
        with self._told():
            frame = av.VideoFrame.from_ndarray(pixels, format="rgb24")
            frame = frame.reformat(format="yuv420p", dst_colorspace=Colorspace.ITU709, interpolation=_EXACT)
            frame.pts = self._number
            frame.time_base = 1 / Fraction(self._stream.codec_context.framerate)
            self._number += 1
            self._container.mux(self._stream.encode(frame))

    def __enter__(self) -> Film:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if error is not None:
            with contextlib.suppress(av.FFmpegError, OSError):
                self._container.close()
            self._discard()
            return
        with self._told():
            self._container.mux(self._stream.encode(None))
            self._container.close()
            with self._part.open("rb") as file:
                os.fsync(file.fileno())
            self._part.replace(self._out)

    def _discard(self) -> None:
        with contextlib.suppress(OSError):
            self._part.unlink(missing_ok=True)

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except (av.FFmpegError, OSError) as error:
            self._discard()
            what = f"the clip could not be written: {getattr(error, 'strerror', None) or error}"
            raise DuskhandError(
                "clip-failed", what, str(self._out), "Free some space there, or choose another file with --out"
            ) from error
