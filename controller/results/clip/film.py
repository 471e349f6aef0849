"""Film files: H.264 or HEVC in MP4, 8 or 10 bits, that start before they have been loaded.

Colours are tagged as BT.709 in limited range, which every player assumes. Frames are converted beside the encoder, in
whichever thread drew them.
"""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Any, Literal

import av
import numpy as np
from av.video.reformatter import Colorspace, Interpolation, VideoReformatter
from numpy.typing import NDArray

from controller.results.clip.options import ClipOptions
from controller.words.errors import BadInput, DuskhandError
from controller.words.no_room import FULL
from controller.words.synced import sync_directory

SUFFIXES = frozenset({".mp4", ".m4v", ".mov"})
_THREADS = "2"  # of slices: drawing takes most of the time, and the same film comes out on every machine
# few frames that an encoder holds: x265 keeps 30 MB of 1080p at 10 bits for each B frame, and a film needs none
# a group of pictures leans on none before it, so that parts can be joined
_X265 = "aq-mode=3:open-gop=0:rc-lookahead=4:bframes=0:ref=1:frame-threads=1:pools=2:log-level=error"
_PLANES = {8: "yuv420p", 10: "yuv420p10le"}
_TAGS = {"h264": "avc1", "hevc": "hvc1"}  # phones play HEVC under this tag, and not under hev1
_BT709 = 1  # ITU-T H.273: primaries, transfer and matrix of BT.709
_LIMITED = 1  # codes 16…235, what players expect
_EXACT = Interpolation.BICUBIC | Interpolation.ACCURATE_RND | Interpolation.FULL_CHR_H_INP
WHITE16 = 255 * 256  # swscale's, in 16 bits; with 65535 white would come out as 943 of 10 bits instead of 940
_REORDERED = 2  # frames that a decoder holds back: x264's B frames lean on each other in two layers
_SEEK_S = 2  # between points to seek to

_reformatters = threading.local()  # each keeps tables that take as long to make as a frame


def check_target(out: Path) -> None:
    """Raises BadInput where a film cannot be written to `out`."""
    if out.suffix.lower() not in SUFFIXES:
        raise BadInput("not-writable", "a clip is an MP4 file", str(out), "End its name with .mp4")
    if out.is_dir() or not out.parent.is_dir():
        what = "this is a directory" if out.is_dir() else "there is no such directory"
        raise BadInput("not-writable", what, str(out if out.is_dir() else out.parent), "Choose another file with --out")
    if not os.access(out.parent, os.W_OK):
        raise BadInput("not-writable", "this user may not write there", str(out.parent), "Choose another with --out")


def failed(error: Exception, where: Path) -> DuskhandError:
    """What is said of an error of the system or the encoder, which must be its cause."""
    what = f"the clip could not be written: {getattr(error, 'strerror', None) or error}"
    remedy = "Free some space there, or choose another file with --out"
    if getattr(error, "errno", None) not in FULL:
        remedy = "Give the same command again: it goes on from there; or choose another file with --out"
    return DuskhandError("clip-failed", what, str(where), remedy)


def no_room(error: DuskhandError) -> bool:
    """Whether a failure is that of a disk that takes no more."""
    return getattr(error.__cause__, "errno", None) in FULL


def rate(fps: float) -> Fraction:
    """Frames a second as films count them: 29.97 is 30000/1001, as television has it (ITU-R BT.709-6, BT.2020-2)."""
    television = (Fraction(whole * 1000, 1001) for whole in (24, 30, 60, 120))
    return next((each for each in television if abs(fps - each) < 0.005), Fraction(fps).limit_denominator(1001))


def seek_frames(fps: float) -> int:
    """Frames from one point to seek to, to the next."""
    return max(1, round(_SEEK_S * fps))


def planes(pixels: NDArray[Any], bits: int) -> av.VideoFrame:
    """(height, width, 3) R'G'B' of 8 bits, or 16 with white at WHITE16, as the planes that the encoder takes."""
    if not hasattr(_reformatters, "mine"):
        _reformatters.mine = VideoReformatter()
    packed = "rgb24" if pixels.dtype == np.uint8 else "rgb48le"
    frame = av.VideoFrame.from_numpy_buffer(np.ascontiguousarray(pixels), format=packed)  # no copy
    made: av.VideoFrame = _reformatters.mine.reformat(
        frame, format=_PLANES[bits], dst_colorspace=Colorspace.ITU709, interpolation=_EXACT, threads=1
    )
    return made


def encoder(options: ClipOptions) -> tuple[Literal["libx264", "libx265"], dict[str, str]]:
    """Its name, and how it is set; all that a film's bytes depend on besides its pictures."""
    # aq-mode 3 gives dark parts more bits: without it night flickers again once it is decoded, by 0.02 EV
    if options.codec == "hevc":
        return "libx265", {"preset": "veryfast", "crf": "22", "x265-params": _X265}
    less = {"rc-lookahead": "5"} if options.bits == 10 else {}
    return "libx264", {"preset": "veryfast", "crf": "20", "aq-mode": "3", "threads": _THREADS} | less


class Film:
    """A context: frames are added in order; the file appears whole when it ends well, and not at all otherwise."""

    def __init__(self, out: Path, size: tuple[int, int], options: ClipOptions, title: str = "") -> None:
        """`size` is even. Raises DuskhandError('clip-failed')."""
        self._out = out
        self._number = self._written = 0
        self._part = out.with_name(f".{out.name}.part")
        name, settings = encoder(options)
        with _told(out, self._part):
            self._container = _open(self._part, title)
            stream = self._container.add_stream(name, rate=rate(options.fps), options=settings)
            assert isinstance(stream, av.VideoStream)
            stream.width, stream.height = size
            stream.pix_fmt = _PLANES[options.bits]
            context = stream.codec_context
            context.codec_tag = _TAGS[options.codec]
            context.gop_size = seek_frames(options.fps)
            context.colorspace = context.color_primaries = context.color_trc = _BT709
            context.color_range = _LIMITED
            self._stream = stream

    def add(self, frame: av.VideoFrame) -> None:
        """The next frame, made by `planes`. Raises DuskhandError('clip-failed')."""
        with _told(self._out, self._part):
            frame.pts = self._number
            frame.time_base = 1 / Fraction(self._stream.codec_context.framerate)
            self._number += 1
            self._write(self._stream.encode(frame))

    def __enter__(self) -> Film:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if error is not None:
            with contextlib.suppress(av.FFmpegError, OSError):
                self._container.close()
            _discard(self._part)
            return
        with _told(self._out, self._part):
            self._write(self._stream.encode(None))
            self._container.close()
            _keep(self._part, self._out)

    def _write(self, packets: Sequence[av.Packet[av.VideoStream]]) -> None:
        for packet in packets:
            packet.dts = self._written - _REORDERED  # x265 tells chance numbers where a film has but two frames
            self._written += 1
            self._container.mux(packet)


def join(parts: Sequence[tuple[Path, int]], out: Path, fps: float, title: str) -> None:
    """One film of several that one `ClipOptions` made, each with its number of frames; nothing is encoded anew.

    `out` appears whole, or is as it was. Raises DuskhandError('clip-failed').
    """
    part = out.with_name(f".{out.name}.part")
    begin = 0
    with _told(out, part):
        container = _open(part, title)
        try:
            stream = None
            for path, count in parts:
                with av.open(str(path)) as source:
                    (given,) = source.streams.video
                    if stream is None:
                        stream = container.add_stream_from_template(given)
                        stream.codec_context.codec_tag = given.codec_context.codec_tag
                        stream.time_base = given.time_base
                    for packet in source.demux(given):
                        if packet.dts is None or packet.pts is None:
                            continue  # the demuxer's last, empty one
                        assert given.time_base is not None
                        later = begin / rate(fps) / given.time_base
                        packet.pts += int(later)
                        packet.dts += int(later)
                        packet.stream = stream
                        container.mux(packet)
                begin += count
        except BaseException:
            with contextlib.suppress(av.FFmpegError, OSError):
                container.close()
            _discard(part)
            raise
        container.close()
        _keep(part, out)


def _open(path: Path, title: str) -> av.container.OutputContainer:
    container = av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"})
    container.metadata["title"] = title
    return container


def _keep(part: Path, out: Path) -> None:
    with part.open("rb") as file:
        os.fsync(file.fileno())
    part.replace(out)
    sync_directory(out.parent)


def _discard(part: Path) -> None:
    with contextlib.suppress(OSError):
        part.unlink(missing_ok=True)


@contextlib.contextmanager
def _told(out: Path, part: Path) -> Iterator[None]:
    try:
        yield
    except (av.FFmpegError, OSError) as error:
        _discard(part)
        raise failed(error, out) from error
