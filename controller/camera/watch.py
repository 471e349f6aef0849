"""Deadlines on a camera process: for opening, for every release, and for a sign of life. Pure."""

from __future__ import annotations

import math
from collections import deque

from controller.camera.messages import Release, Trouble

REMEDY = "It is opened anew; if this goes on, switch the camera off and on"
_OPENING_S = 20.0
_RELEASE_S = 10.0  # on top of the exposure
SILENCE_S = 10.0
"""Without a sign of life for so long, on top of an exposure, a camera process is given up."""


class Watch:
    """Watches one process from `now_mono` on; all times are CLOCK_MONOTONIC."""

    def __init__(self, now_mono: float) -> None:
        self._heard = now_mono
        self._begun = now_mono
        self._quiet_until = now_mono
        self._is_open = False
        self._orders: dict[int, Release] = {}
        self._exposure_s = 0.0
        self._due: deque[float] = deque(maxlen=2)
        self._exposed_until = 0.0

    # ---- what happens

    def heard(self, now_mono: float, quiet_s: float = 0.0) -> None:
        """A sign of life; nothing more may be heard for `quiet_s`."""
        self._heard = now_mono
        self._quiet_until = now_mono + quiet_s
        if not self._is_open:
            self._begun = now_mono

    def opened(self) -> None:
        self._is_open = True

    def ordered(self, order: Release) -> None:
        self._orders[order.seq] = order
        self._exposure_s = order.exposure_s
        self._due.append(order.due_mono)
        self._exposed_until = order.due_mono + order.exposure_s

    def answered(self, seq: int) -> None:
        self._orders.pop(seq, None)

    def slept_over(self, late_s: float) -> None:
        """The daemon itself was held up, so it may simply not have listened."""
        if late_s > 0.5:
            self._heard += late_s
            self._begun += late_s

    def clear_s(self, now_mono: float) -> float:
        """Seconds to the next release that is ordered, or that comes in step with the last two; 0 while one exposes."""
        if now_mono < self._exposed_until:
            return 0.0
        known = [order.due_mono for order in self._orders.values()]
        if len(self._due) == 2 and self._due[1] >= now_mono - (self._due[1] - self._due[0]):
            known.append(2 * self._due[1] - self._due[0])
        return max(0.0, min(known, default=math.inf) - now_mono)

    # ---- what is asked

    @property
    def in_hand(self) -> list[int]:
        """Slots of which it is not known whether they were released."""
        return sorted(self._orders)

    @property
    def longest_s(self) -> float:
        return max((order.exposure_s for order in self._orders.values()), default=self._exposure_s)

    def wrong(self, now_mono: float) -> Trouble | None:
        """Why the process has to be killed."""
        if now_mono < self._quiet_until:
            return None
        if not self._is_open:
            if now_mono - self._begun > _OPENING_S:
                what = f"the camera did not open within {_OPENING_S:.0f} s"
                return Trouble("camera-not-opened", what, REMEDY, fatal=True)
            return None
        if now_mono - self._heard > self.longest_s + SILENCE_S:
            what = f"the camera process gave no sign of life for {now_mono - self._heard:.0f} s"
            return Trouble("camera-mute", what, REMEDY, fatal=True)
        for order in self._orders.values():
            if now_mono > max(order.latest_mono, order.due_mono) + order.exposure_s + _RELEASE_S:
                what = f"slot {order.seq} was neither released nor missed in time"
                return Trouble("camera-no-release", what, REMEDY, fatal=True)
        return None
