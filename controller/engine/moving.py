"""A motion rig between exposures: a pulse when the last shutter has closed, no release until the camera stands still.

One for the rig, however many cameras are on it. Moments are plan seconds.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable
from typing import TYPE_CHECKING

from controller.camera.messages import Released
from controller.decide.step import Slot
from controller.decide.wiring import Motion
from controller.decide.wiring.motion import Move, move_after, moves_after, released_at
from controller.wiring.pins import Output
from controller.words.clock import Clock, Timer
from controller.words.errors import WiringError

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

IN_MOTION = "released while the motion rig was moving"
"""What is said of a frame that cannot be told to be sharp."""

_KEPT = 8  # moves that a late word of a release is held against
_AGAIN_S = 1.0  # wall seconds between tries at a pin that stays on


class Moving:
    """`failed` takes what went wrong with the pin, None once it is well again; `over` is called after each pulse."""

    def __init__(
        self,
        rule: Motion,
        clock: Clock,
        failed: Callable[[WiringError | None], None],
        over: Callable[[], None],
        line: Output | None = None,
    ) -> None:
        self.rule = rule
        self._clock, self._failed, self._over = clock, failed, over
        self._line = line or Output(rule.pin, rule.active, "motion")
        self._ends: dict[str, float] = {}  # of each camera's last exposure, as planned until it has begun
        self._follows: tuple[str, int] | None = None  # the slot after which it is to move next, or moved last
        self._moved: tuple[str, int] | None = None  # the slot after which it moved last
        self._moves: deque[Move] = deque(maxlen=_KEPT)
        self._coming: Move | None = None
        self._begun: float | None = None  # of the pulse that is on
        self._timer: Timer | None = None

    def open(self) -> None:
        """Take the pin; where that fails it is told, and tried again at each move."""
        self._tried(self._line.open)

    def close(self) -> None:
        """No more moves, and the pin is off and let go."""
        if self._timer is not None:
            self._timer.cancel()
        try:
            self._line.close()
        except WiringError as error:
            self._failed(error)

    # ---- what the cameras do

    def ordered(self, run: ShootRun, slot: Slot, latest: float) -> float | None:
        """A slot is to be released: when, so that the camera stands still; None where that is after `latest`."""
        due = released_at(slot.due_mono, latest, self.still_at)
        if due is not None:
            self._ends[run.camera.id] = due + slot.exposure.shutter_s
        return due

    def heard(self, run: ShootRun, slot: Slot, report: Released) -> dict[str, str]:
        """A shutter was released: what is to be said of its frame. A move follows, once no camera exposes any more."""
        at = run.clock.from_wall(report.at_mono)
        ends = run.clock.from_wall(report.at_mono + report.call_s) + slot.exposure.shutter_s
        self._ends[run.camera.id] = ends
        if moves_after(run.plan, slot.seq):
            self._follows = (run.shoot.id, slot.seq)
        if self._begun is None and self._follows != self._moved:
            self._plan(max(self._ends.values()))
        moved = any(move.begins < ends and at < move.still for move in self._known())
        return {"cause": IN_MOTION} if moved else {}

    # ---- what the slots ask

    @property
    def over_at(self) -> float:
        """When the pulse that is on, or to come, is over; before that nobody knows when the camera stands still."""
        return -math.inf if self._coming is None else max(self._coming.ends, self._clock.mono() + 0.001)

    @property
    def still_at(self) -> float:
        """From when on the camera stands still."""
        return max((move.still for move in self._known()), default=-math.inf)

    def _known(self) -> list[Move]:
        return [*self._moves, *([self._coming] if self._coming is not None else [])]

    # ---- the pulse

    def _plan(self, exposed: float) -> None:
        self._coming = move_after(self.rule, exposed)
        self._at(self._coming.begins, self._begin)

    def _at(self, mono: float, call: Callable[[], None]) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._timer = self._clock.call_at(mono, call)

    def _begin(self) -> None:
        """All that was ordered has been exposed, as far as is known: who is silent does not keep the others."""
        self._moved = self._follows
        if not self._tried(lambda: self._line.switch(True)):
            self._coming = None  # nothing moves
            self._over()
            return
        self._begun = self._clock.mono()
        self._at(self._begun + self.rule.pulse_s, self._end)

    def _end(self) -> None:
        assert self._coming is not None
        assert self._begun is not None
        if not self._tried(lambda: self._line.switch(False)):  # it may go on moving: tried until it is off
            self._coming = self._coming.late(self._begun, self._clock.mono() + _AGAIN_S * self._clock.rate)
            self._at(self._clock.mono() + _AGAIN_S * self._clock.rate, self._end)
            return
        self._moves.append(self._coming.late(self._begun, self._clock.mono()))
        self._coming = self._begun = None
        self._over()

    def _tried(self, call: Callable[[], None]) -> bool:
        try:
            call()
        except WiringError as error:
            self._failed(error)
            return False
        self._failed(None)
        return True
