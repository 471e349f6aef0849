"""Releases that were answered and may have taken no frame all the same. Pure; times are CLOCK_MONOTONIC.

While a Nikon says that it is busy, or in a state in which it takes no picture, libgphoto2 asks it 201 times, 2 ms and
more apart, and then answers that all is well (camera_trigger_capture in camlibs/ptp2/library.c of 2.5.30, and what
2.5.34 does). Nothing but its length tells such a call from a true one, which ends when the exposure is over, looked at
every 0.1 s. So the release of a call of that length is told once the frame's file has come.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.camera.messages import Release
from controller.camera.worker.roll import Shot

VAIN_S = 201 * 0.002
"""What a call takes at least that was in vain."""

_EARLY_S, _READY_S = 0.05, 0.3  # by which a true answer comes before the exposure's end, or after it
_OFTEN = 3  # doubts in a row without a reason: this body just takes so long


@dataclass(slots=True)
class Doubt:
    """One release in doubt until `until_mono`; `call_s` is how long it took to be answered."""

    order: Release
    shot: Shot
    call_s: float
    until_mono: float

    @property
    def taken(self) -> bool:
        """The frame has a file."""
        return bool(self.shot.files)


class Doubts:
    """What is a usual answer of one body."""

    def __init__(self) -> None:
        self._least_s, self._most_s = -_EARLY_S, _READY_S  # beyond the exposure
        self._without_reason = 0

    def arise(self, call_s: float, exposure_s: float) -> bool:
        """Whether a release that was answered after `call_s` may have been in vain."""
        return call_s >= VAIN_S and not self._least_s <= call_s - exposure_s <= self._most_s

    def settle(self, doubt: Doubt) -> None:
        """It is known what came of a release. A body that answers so at every frame is not doubted any more."""
        self._without_reason = self._without_reason + 1 if doubt.taken else 0
        if self._without_reason >= _OFTEN:
            beyond_s = doubt.call_s - doubt.shot.order.exposure_s
            self._least_s, self._most_s = min(self._least_s, beyond_s), max(self._most_s, beyond_s)
