"""One camera's way up the ladder: what is tried now, since when, and what of it is told."""

from __future__ import annotations

import math
from collections.abc import Callable

from controller.camera.ladder import Cause, Move, Rung, next_move, power_due
from controller.camera.messages import Tried

LIVED_S = 5.0
"""A session that was lost again sooner did not help: the climb goes on where it was."""

_TOLD = 12
"""Steps in vain that are told after a loss; a camera that is switched off for a night is tried thousands of times."""


class Climb:
    """`tell` takes what is to be noted. `power`: a command for cutting the power is configured.

    All times are CLOCK_MONOTONIC. `clear_s` are the seconds until the next release of any camera of the rig.
    """

    def __init__(self, tell: Callable[[Tried], None], *, usb: bool, power: bool) -> None:
        self._tell, self._usb, self._power = tell, usb, power
        self._tried: list[Rung] = []
        self._lost_mono: float | None = None  # None while a session stands, and before the first
        self._opened_mono = -math.inf
        self._power_mono = -math.inf
        self._began_mono = 0.0  # of the step under way, with those like it before
        self._times = self._told = 0

    def lost(self, now_mono: float) -> None:
        """The session that stood is gone."""
        if now_mono - self._opened_mono > LIVED_S:
            self._tried, self._told, self._times = [], 0, 0
        self._lost_mono = now_mono

    def there(self, now_mono: float) -> None:
        """A session stands."""
        if self._lost_mono is not None and self._times:
            self._report(now_mono, worked=True, what="the camera is there again")
        self._lost_mono, self._times, self._opened_mono = None, 0, now_mono

    def failed(self, cause: Cause, what: str, now_mono: float, clear_s: float = math.inf) -> Move:
        """What was tried last came to nothing, or nothing was tried yet: what comes next."""
        lost_mono = now_mono if self._lost_mono is None else self._lost_mono
        power = self._power and power_due(now_mono - lost_mono, now_mono - self._power_mono, clear_s)
        move = next_move(cause, self._tried, usb=self._usb, power=power)
        if self._times and self._tried[-1] is not move.rung:
            self._report(now_mono, worked=False, what=what)
            self._times = 0
        if move.rung in (Rung.PROCESS, Rung.POWER):
            self._tried.clear()  # what was tried before does not count any more
        if move.rung is Rung.POWER:
            self._power_mono = now_mono
        self._tried.append(move.rung)
        if not self._times:
            self._began_mono = now_mono + move.wait_s
        self._times += 1
        return move

    def _report(self, now_mono: float, *, worked: bool, what: str) -> None:
        rung, lost_mono = self._tried[-1], self._lost_mono
        if lost_mono is None or (not worked and self._told >= _TOLD and rung is not Rung.POWER):
            return
        self._told += 1
        began, took_s = self._began_mono, max(0.0, now_mono - self._began_mono)
        self._tell(Tried(str(rung), self._times, began, took_s, now_mono - lost_mono, worked, what))
