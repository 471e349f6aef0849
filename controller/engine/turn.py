"""Whose turn it is with a camera: one shoot at a time, until its last frame has been seen to."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

from controller.words.errors import Conflict

if TYPE_CHECKING:
    from controller.engine.run import ShootRun


class Turn:
    """`owner` is the run that the camera's reports belong to; `waiting`, how many runs wait for the camera."""

    def __init__(self) -> None:
        self._lock = asyncio.Lock()
        self.owner: ShootRun | None = None
        self.waiting = 0

    async def taken(self, run: ShootRun) -> bool:
        """Wait for the turn and take it; False where the run was stopped while it waited for another."""
        taking = asyncio.create_task(self._lock.acquire())
        stopping = asyncio.create_task(run.stop_event.wait())
        self.waiting += 1
        try:
            if self._lock.locked() or self.waiting > 1:  # given back a moment ago, it is the next one's
                await asyncio.wait({taking, stopping}, return_when=asyncio.FIRST_COMPLETED)
            else:
                await taking
        except asyncio.CancelledError:
            if taking.done() and not taking.cancelled():
                self._lock.release()
            raise
        finally:
            self.waiting -= 1
            stopping.cancel()
            if not taking.done():
                taking.cancel()
        if taking.cancelled() or not taking.done():
            return False
        self.owner = run
        return True

    @asynccontextmanager
    async def borrowed(self, camera: str) -> AsyncIterator[None]:
        """For a moment, by nobody's shoot; raises Conflict where one has it. A shoot that comes meanwhile waits."""
        if self._lock.locked():
            what = "a shoot has this camera, or a test frame is being taken with it"
            raise Conflict("shoot-has-camera", what, where=camera, remedy="Stop the shoot, or wait for its end")
        async with self._lock:
            yield

    def release(self) -> None:
        """Give it back."""
        self.owner = None
        self._lock.release()
