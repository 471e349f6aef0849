"""How fast the cameras' batteries fall while a shoot has them: each window of a shoot begins anew, and each restart."""

from __future__ import annotations

from controller.decide.battery_fall import Fall, heard, hours_left
from controller.engine.turn import Turn
from controller.words.clock import Clock


class Batteries:
    """`turns` are the rig's own, by camera."""

    def __init__(self, turns: dict[str, Turn], clock: Clock) -> None:
        self._turns, self._clock = turns, clock
        self._falls: dict[str, tuple[object, Fall]] = {}  # by camera, with the run that has it

    def heard(self, camera: str, percent: int | None) -> None:
        """A camera has told its percent; what was drained for no shoot, or another one, tells nothing."""
        owner = self._turns[camera].owner
        if owner is None:
            self._falls.pop(camera, None)
        elif percent is not None:
            before, fall = self._falls.get(camera, (owner, Fall()))
            self._falls[camera] = owner, heard(fall if before is owner else Fall(), self._clock.mono(), percent)

    def hours_left(self, camera: str) -> float | None:
        """Plan hours until it is empty; None where no shoot has it, or its fall is not known."""
        owner, fall = self._falls.get(camera, (None, Fall()))
        if owner is None or owner is not self._turns[camera].owner:
            return None
        hours = hours_left(fall, self._clock.mono())
        return None if hours is None else round(max(0.0, hours), 1)
