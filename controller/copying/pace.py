"""A cap on bytes a second."""

from __future__ import annotations

import time


class Pace:
    """`per_s` bytes a second at most, over all that is sent and read back; None for no cap."""

    def __init__(self, per_s: float | None) -> None:
        self._per_s = per_s
        self._free_mono = time.monotonic()

    def wait_s(self, size: int) -> float:
        """How long to wait after so many bytes."""
        if self._per_s is None:
            return 0.0
        now = time.monotonic()
        self._free_mono = max(self._free_mono, now) + size / self._per_s
        return self._free_mono - now
