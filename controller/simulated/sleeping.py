"""A body that goes to sleep when nobody works with it, in the ways that bodies differ by.

sleep   any request holds it off; the request that wakes it is lost, and waking takes its time
doze    only work holds it off; the first request of any kind wakes it, and is done and answered that much later
leave   only work holds it off; falling asleep it ends the connection, and whoever connects is greeted after waking

Work is a release, a setting, or a file that is fetched; all else is a mere question.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from controller.simulated.ptp import Operation

QUESTIONS = frozenset(
    {
        Operation.GET_DEVICE_INFO,
        Operation.GET_STORAGE_IDS,
        Operation.GET_STORAGE_INFO,
        Operation.GET_DEVICE_PROP_DESC,
        Operation.GET_DEVICE_PROP_VALUE,
        Operation.NIKON_CHECK_EVENT,
        Operation.NIKON_DEVICE_READY,
    }
)


class Sleep:
    """`busy_until` tells until when the body exposes; `drop` cuts the connection. Thread-safe by its caller's lock."""

    def __init__(self, busy_until: Callable[[], float], drop: Callable[[], None]) -> None:
        self._busy_until, self._drop = busy_until, drop
        self._kind = ""
        self._after_s = self._wake_s = 0.0
        self._active = self.waking_until = time.monotonic()
        self._timer: threading.Timer | None = None
        self.woken = {"release": 0, "other": 0}

    def begin(self, kind: str, after_s: float, wake_s: float) -> None:
        """From now on asleep after `after_s` without what holds it off; waking takes `wake_s`."""
        self.end()
        self._kind, self._after_s, self._wake_s = kind, after_s, wake_s
        self._active = time.monotonic()
        if kind == "leave":
            self._look_in(after_s)

    def end(self) -> None:
        """It sleeps no more."""
        self._kind = ""
        if self._timer is not None:
            self._timer.cancel()

    @property
    def asleep(self) -> bool:
        return bool(self._kind) and self._left_s() <= 0

    def request(self, operation: int, release: bool) -> float | None:
        """Take in a request: seconds that it has to wait for the body, None where it is lost."""
        now = time.monotonic()
        if self.asleep:
            self.woken["release" if release else "other"] += 1
            self._active = self.waking_until = now + self._wake_s
            return None if self._kind == "sleep" else self._wake_s
        if self._kind == "sleep" or operation not in QUESTIONS:
            self._active = max(self._active, now)
        return max(0.0, self.waking_until - now) if self._kind == "doze" else 0.0

    def greeting_s(self) -> float:
        """Seconds until whoever connects is greeted."""
        if self._kind == "leave" and self.asleep:
            self.woken["other"] += 1
            self._active = time.monotonic() + self._wake_s
            self._look_in(self._after_s)
            return self._wake_s
        return 0.0

    def _left_s(self) -> float:
        return max(self._active, self._busy_until()) + self._after_s - time.monotonic()

    def _look_in(self, seconds: float) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._timer = threading.Timer(max(0.01, seconds), self._leave)
        self._timer.daemon = True
        self._timer.start()

    def _leave(self) -> None:
        if self._kind != "leave":
            return
        if self.asleep:
            self._drop()
        else:
            self._look_in(self._left_s())
