"""What memory a film takes, whether there is so much, and that it goes back to the system once pictures are let go."""

from __future__ import annotations

import contextlib
import ctypes
from pathlib import Path

from controller.results.clip.geometry import Size
from controller.words.errors import BadInput
from controller.words.phrases import size as in_words

_MMAP_THRESHOLD = -3  # M_MMAP_THRESHOLD, mallopt(3)
_LARGE = 1 << 20  # bytes: every picture, no object of Python's
_BASE = 70e6  # bytes beyond what the process has once it has looked at the pictures
_A_PIXEL = {("h264", 8): 98.0, ("h264", 10): 133.0, ("hevc", 8): 93.0, ("hevc", 10): 134.0}
"""Bytes for each pixel of the film, measured (docs/measurements.md): frames in the encoder, pictures being drawn."""
_SURE = 0.8
"""Of what is reckoned: with less than that free a film is not begun."""


def needed(size: Size, codec: str, bits: int) -> float:
    """Bytes that drawing and encoding a film of so many pixels takes, of pictures of 24 megapixels."""
    return _BASE + size[0] * size[1] * _A_PIXEL[codec, bits]


def check_memory(size: Size, codec: str, bits: int, free: float | None) -> str | None:
    """A line for people where memory may run short of `free` bytes; None where it does not, or that is not known.

    Raises BadInput where it would: a process that takes more than there is would be ended without a word (proc(5),
    oom_score).
    """
    wanted = needed(size, codec, bits)
    if free is None or wanted <= free:
        return None
    takes = f"a film of {size[0]}×{size[1]} pixels takes about {in_words(wanted)} of memory"
    short = f"{takes}, and {in_words(free)} are free"
    if _SURE * wanted > free:
        raise BadInput("clip-memory", short, "size", "Give a smaller size, or make it on a machine that has more")
    return f"{short}: it may not end"


def free_memory() -> int | None:
    """Bytes that a process may have: MemAvailable and SwapFree of /proc/meminfo, see proc(5); None: not told."""
    try:
        lines = dict(line.split(":") for line in Path("/proc/meminfo").read_text().splitlines())
        return sum(int(lines[name].split()[0]) * 1024 for name in ("MemAvailable", "SwapFree"))
    except (OSError, ValueError, KeyError):
        return None


def give_back() -> None:
    """Have this process map each large block by itself, instead of cutting it from heaps that threads keep.

    glibc raises that bound by itself to the largest block that was freed, up to 32 MB (mallopt(3)), and pictures that
    come and go in several threads then leave holes: a film of ten bits held 100 MB more. Nothing where the C library
    has no such call.
    """
    with contextlib.suppress(AttributeError, OSError):
        ctypes.CDLL(None).mallopt(_MMAP_THRESHOLD, _LARGE)
