"""Memory of pictures goes back to the system once they are let go."""

from __future__ import annotations

import contextlib
import ctypes

_MMAP_THRESHOLD = -3  # M_MMAP_THRESHOLD, mallopt(3)
_LARGE = 1 << 20  # bytes: every picture, no object of Python's


def give_back() -> None:
    """Have this process map each large block by itself, instead of cutting it from heaps that threads keep.

    glibc raises that bound by itself to the largest block that was freed, up to 32 MB (mallopt(3)), and pictures that
    come and go in several threads then leave holes: a film of ten bits held 100 MB more. Nothing where the C library
    has no such call.
    """
    with contextlib.suppress(AttributeError, OSError):
        ctypes.CDLL(None).mallopt(_MMAP_THRESHOLD, _LARGE)
