"""Clocks as arguments: the wall's, one that runs R times faster, and one that needs no waiting.

`mono` is plan time: seconds that never step back, counted at the plan's pace. `wall_mono` is CLOCK_MONOTONIC, the
base that the camera process shares. On a real rig both are the same.
"""

from __future__ import annotations

import asyncio
import heapq
import itertools
import time
from collections.abc import Callable
from typing import Protocol


class Timer(Protocol):
    """Something that will happen, unless it is cancelled."""

    def cancel(self) -> None: ...


class Clock(Protocol):
    """What the engine asks of a clock."""

    rate: float

    def utc(self) -> float:
        """POSIX seconds now."""
        ...

    def mono(self) -> float:
        """Plan seconds now; never steps."""
        ...

    def awake(self) -> float:
        """Plan seconds that go on while the machine sleeps, unlike `mono`; never steps."""
        ...

    def to_wall(self, mono: float) -> float:
        """The CLOCK_MONOTONIC second at which plan second `mono` arrives."""
        ...

    def from_wall(self, wall_mono: float) -> float:
        """The plan second that belongs to a CLOCK_MONOTONIC second."""
        ...

    def call_at(self, mono: float, callback: Callable[[], object]) -> Timer:
        """Call `callback` in the running event loop once plan second `mono` has come."""
        ...


async def sleep_until(clock: Clock, mono: float) -> None:
    """Return once plan second `mono` has come by `clock`."""
    future: asyncio.Future[None] = asyncio.get_running_loop().create_future()

    def wake() -> None:
        if not future.done():
            future.set_result(None)

    timer = clock.call_at(mono, wake)
    try:
        await future
    finally:
        timer.cancel()


def _call_at_wall(wall_mono: float, callback: Callable[[], object]) -> Timer:
    return asyncio.get_running_loop().call_later(max(0.0, wall_mono - time.monotonic()), callback)


class WallClock:
    """The rig's own time: the machine's, unless the rig was told another."""

    rate = 1.0
    _told: float | None = None  # POSIX seconds minus `awake`

    def utc(self) -> float:
        return self.machine_utc() if self._told is None else self.awake() + self._told

    def machine_utc(self) -> float:
        """What the machine's clock says."""
        return time.time()

    def tell(self, utc: float | None) -> None:
        """It is `utc`, whatever the machine's clock says from now on; None: that one is followed again."""
        self._told = None if utc is None else utc - self.awake()

    def mono(self) -> float:
        return time.monotonic()

    def awake(self) -> float:
        return time.clock_gettime(time.CLOCK_BOOTTIME)

    def to_wall(self, mono: float) -> float:
        return mono

    def from_wall(self, wall_mono: float) -> float:
        return wall_mono

    def call_at(self, mono: float, callback: Callable[[], object]) -> Timer:
        return _call_at_wall(mono, callback)


class ScaledClock:
    """Time that began at `epoch_utc` when CLOCK_MONOTONIC was `epoch_mono`, and runs `rate` times faster."""

    def __init__(self, epoch_utc: float, epoch_mono: float, rate: float) -> None:
        self.epoch_utc, self.epoch_mono, self.rate = epoch_utc, epoch_mono, rate

    def utc(self) -> float:
        return self.epoch_utc + self.mono()

    def mono(self) -> float:
        return self.from_wall(time.monotonic())

    def awake(self) -> float:
        return self.mono()

    def to_wall(self, mono: float) -> float:
        return self.epoch_mono + mono / self.rate

    def from_wall(self, wall_mono: float) -> float:
        return (wall_mono - self.epoch_mono) * self.rate

    def call_at(self, mono: float, callback: Callable[[], object]) -> Timer:
        return _call_at_wall(self.to_wall(mono), callback)


class Steps:
    """Tells by how much the wall's clock was put forward or back since the last look; a sleeping machine is no step."""

    LEAST_S = 0.9
    """What is less is a clock that is being steered."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._offset = clock.utc() - clock.awake()

    def look(self) -> float:
        """Plan seconds of the step, 0 where there was none."""
        offset = self._clock.utc() - self._clock.awake()
        step = offset - self._offset
        if abs(step) < self.LEAST_S * self._clock.rate:
            return 0.0  # many small ones add up to one
        self._offset = offset
        return step


class _VirtualTimer:
    __slots__ = ("callback",)

    def __init__(self, callback: Callable[[], object]) -> None:
        self.callback: Callable[[], object] | None = callback

    def cancel(self) -> None:
        self.callback = None


class VirtualClock:
    """Time that moves only when `advance` is called: to the earliest moment that anything waits for."""

    rate = 1.0

    def __init__(self, epoch_utc: float) -> None:
        self.epoch_utc = epoch_utc
        self._now = 0.0
        self._order = itertools.count()
        self._timers: list[tuple[float, int, _VirtualTimer]] = []

    def utc(self) -> float:
        return self.epoch_utc + self._now

    def mono(self) -> float:
        return self._now

    def awake(self) -> float:
        return self._now

    def to_wall(self, mono: float) -> float:
        return mono

    def from_wall(self, wall_mono: float) -> float:
        return wall_mono

    def call_at(self, mono: float, callback: Callable[[], object]) -> Timer:
        timer = _VirtualTimer(callback)
        heapq.heappush(self._timers, (mono, next(self._order), timer))
        return timer

    def advance(self) -> bool:
        """Move to the next moment that anything waits for and run what waits; False where nothing waits."""
        timers = self._timers
        while timers:
            mono, _, timer = heapq.heappop(timers)
            callback = timer.callback
            if callback is not None:
                if mono > self._now:
                    self._now = mono
                callback()
                return True
        return False
