"""Writing to a shoot's log in order, without anybody being kept waiting by a slow or a full disk."""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Awaitable, Callable
from typing import Protocol

from controller.words.errors import StoreError

log = logging.getLogger(__name__)

RETRY_S = 2.0
"""Wall seconds after which a log that could not be written is tried again."""

PATIENCE_S = 0.25
"""Wall seconds for which a writer is waited for; where one entry takes longer, those after it are not waited for."""

SETTLED_S = 10.0
"""Wall seconds for which a reader waits for what is on its way to the log."""

TOGETHER = 50
"""Entries that go to the log at once."""

MOST = 50_000
"""Entries that wait, some 50 MB, before those of new slots are left out: half a day of frames. A disk that has become
read-only may stay so for weeks, and a rig whose memory is full shoots no more."""

Operation = Callable[[], Awaitable[object]]


class Writing(Protocol):
    """How a book's entries come into its log."""

    trouble: StoreError | None  # why the log cannot be written at present
    full: bool  # so much waits that there is no memory for more slots, until all of it is written

    async def write(self, operation: Operation, within_s: float | None = None) -> None:
        """Returns once `operation` is in the log or cannot be, or after `within_s` wall seconds; it is written anyhow.

        Without `within_s` that is PATIENCE_S, and at once where entries before it take longer.
        """
        ...

    async def settled(self) -> None:
        """Returns when nothing is on its way."""
        ...

    async def close(self) -> None:
        """Wait a moment for what is still to be written."""
        ...


class InOrder:
    """Entries in a queue, so that none overtakes another; those that the log does not take are tried again."""

    def __init__(self, shoot: str) -> None:
        self.trouble: StoreError | None = None
        self.full = False
        self._shoot = shoot
        self._queue: deque[tuple[Operation, asyncio.Future[None]]] = deque()
        self._begun_s: float | None = None
        self._task: asyncio.Task[None] | None = None

    async def write(self, operation: Operation, within_s: float | None = None) -> None:
        loop = asyncio.get_running_loop()
        done: asyncio.Future[None] = loop.create_future()
        self._queue.append((operation, done))
        self.full = self.full or len(self._queue) >= MOST
        if self._task is None or self._task.done():
            self._task = asyncio.create_task(self._work())
        if self.trouble is not None:
            return
        if within_s is None:
            behind = self._begun_s is not None and loop.time() - self._begun_s > PATIENCE_S
            within_s = 0.0 if behind else PATIENCE_S
        if within_s > 0:
            await asyncio.wait({done}, timeout=within_s)

    async def _work(self) -> None:
        loop = asyncio.get_running_loop()
        while self._queue:
            batch = [self._queue.popleft() for _ in range(min(TOGETHER, len(self._queue)))]
            self._begun_s = loop.time()
            came = await asyncio.gather(*(operation() for operation, _ in batch), return_exceptions=True)
            self._begun_s = None
            again = []
            for entry, result in zip(batch, came, strict=True):
                if isinstance(result, StoreError):
                    self._set_trouble(result)
                    again.append(entry)
                elif isinstance(result, Exception) and again:  # perhaps only for want of one before it
                    again.append(entry)
                else:
                    if isinstance(result, Exception):  # it must not keep those after it from the log
                        text = "%s: an entry does not fit the log and is left out"
                        log.error(text, self._shoot, exc_info=result)
                if not entry[1].done():  # nobody is kept waiting for one that is tried again
                    entry[1].set_result(None)
            if again:
                self._queue.extendleft(reversed(again))
                await asyncio.sleep(RETRY_S)
        self.full = False
        if self.trouble is not None:
            log.warning("%s: the log is being written again", self._shoot)
            self.trouble = None

    def _set_trouble(self, error: StoreError) -> None:
        if self.trouble is None:
            log.error("%s: the log cannot be written: %s", self._shoot, error)
        self.trouble = error

    async def settled(self) -> None:
        if self._task is not None and not self._task.done():
            await asyncio.wait({self._task}, timeout=SETTLED_S)

    async def close(self) -> None:
        if self._task is not None and not self._task.done():
            _, pending = await asyncio.wait({self._task}, timeout=max(SETTLED_S, 2 * RETRY_S))
            for task in pending:
                task.cancel()
                log.error("%s: %d entries could not be written to the log", self._shoot, len(self._queue))
