"""The event stream: each document is serialised once and handed to every subscriber, resumable by id."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import AsyncIterator
from dataclasses import dataclass

from pydantic import BaseModel

KEPT = 1000
"""Events kept for subscribers who come back."""

BACKLOG = 200
"""Events that a slow subscriber may lag behind before it is let go; it comes back with its last id."""


@dataclass(frozen=True, slots=True)
class Event:
    """One event: `id` to resume from, `kind` (now, frame, shoot, note, clip, heartbeat), `data` as JSON."""

    id: str
    kind: str
    data: str


class Hub:
    """Publishes events. `run` tells this start of the rig from others, so that an old id is never mistaken."""

    def __init__(self, run: str) -> None:
        self.run = run
        self._count = 0
        self._kept: deque[Event] = deque(maxlen=KEPT)
        self._queues: set[asyncio.Queue[Event | None]] = set()

    @property
    def last_id(self) -> str:
        """Id of the newest event."""
        return f"{self.run}-{self._count}"

    @property
    def listeners(self) -> int:
        return len(self._queues)

    def publish(self, kind: str, document: BaseModel) -> None:
        """Serialise `document` and hand it to every subscriber; never waits."""
        self._count += 1
        event = Event(self.last_id, kind, document.model_dump_json())
        self._kept.append(event)
        for queue in list(self._queues):
            try:
                queue.put_nowait(event)
            except asyncio.QueueFull:
                self._let_go(queue)

    def _let_go(self, queue: asyncio.Queue[Event | None]) -> None:
        self._queues.discard(queue)
        while not queue.empty():
            queue.get_nowait()
        queue.put_nowait(None)

    def missed_since(self, last_id: str | None) -> list[Event]:
        """Kept events after `last_id`; none for an id of another run or one that is no longer kept."""
        run, _, number = (last_id or "").rpartition("-")
        if run != self.run or not (number.isascii() and number.isdigit()):
            return []
        first_kept = self._count - len(self._kept)
        since = int(number)
        return [] if since < first_kept else list(self._kept)[since - first_kept :]

    async def subscribe(self, last_id: str | None = None) -> AsyncIterator[Event]:
        """Events from `last_id` on, then live; ends when the hub closes or the subscriber is too slow."""
        queue: asyncio.Queue[Event | None] = asyncio.Queue(BACKLOG)
        self._queues.add(queue)
        try:
            for event in self.missed_since(last_id):
                yield event
            while (latest := await queue.get()) is not None:
                yield latest
        finally:
            self._queues.discard(queue)

    def close(self) -> None:
        """End every subscription."""
        for queue in list(self._queues):
            self._let_go(queue)
