"""Waiting for a moment that may be cut short."""

from __future__ import annotations

import asyncio

from controller.words.clock import Clock


class Waker:
    """One waiter at a time; a wake-up that comes while nobody waits is kept for the next wait."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._woken = False
        self._future: asyncio.Future[None] | None = None

    def wake(self) -> None:
        """End the present wait, or the next one at once."""
        self._woken = True
        if self._future is not None and not self._future.done():
            self._future.set_result(None)

    async def until(self, mono: float | None) -> None:
        """Return at plan second `mono` (none: never), or when woken."""
        if not self._woken:
            future: asyncio.Future[None] = asyncio.get_running_loop().create_future()
            self._future = future
            timer = None
            if mono is not None:
                timer = self._clock.call_at(mono, lambda: None if future.done() else future.set_result(None))
            try:
                await future
            finally:
                self._future = None
                if timer is not None:
                    timer.cancel()
        self._woken = False
