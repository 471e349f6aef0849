"""Server-sent events: what is now first, then what has been missed, then what happens."""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import AsyncGenerator, AsyncIterator
from contextlib import aclosing
from functools import lru_cache
from typing import ClassVar, cast

from fastapi.sse import format_sse_event
from pydantic import Field
from starlette.exceptions import HTTPException
from starlette.types import Send

from api.patient import PatientStream
from api.rig import Rig
from controller.engine.hub import Event
from controller.words.documents import Document
from controller.words.times import Utc

HEARTBEAT_S = 2.0
"""Wall seconds between heartbeats: a page that hears nothing for 5 s takes its link for dead."""

SLOW_S = 20.0
"""Wall seconds in which a client must take what is sent to it, or be let go; it comes back with its last id."""

MOST, MOST_EACH = 100, 8
"""Streams in all, and of one session: each takes memory, and a share of every event's sending."""

RETRY_MS = 2000
"""How long a browser waits before it comes back."""


class Heartbeat(Document):
    """The rig is alive and reachable; nothing else need have happened."""

    utc: Utc
    listeners: int = Field(description="clients of the event stream")


@lru_cache(maxsize=64)
def wire(event: Event) -> bytes:
    """An event as it goes to every client, put together once."""
    return format_sse_event(data_str=event.data, event=event.kind, id=event.id)


async def follow(rig: Rig, last_id: str | None) -> AsyncIterator[bytes]:
    """The stream of one client. The first `now` has no id, so that the id to resume from stays the client's own."""
    now = await rig.now()
    yield format_sse_event(data_str=now.model_dump_json(), event="now", retry=RETRY_MS)
    since = last_id if rig.hub.missed_since(last_id) else now.event_id
    async with aclosing(cast("AsyncGenerator[Event]", rig.hub.subscribe(since))) as events:
        async for event in events:
            yield wire(event)


async def beat(rig: Rig) -> None:
    """Publish a heartbeat every few seconds while anybody listens, for ever."""
    while True:
        await asyncio.sleep(HEARTBEAT_S)
        if rig.hub.listeners:
            rig.hub.publish("heartbeat", Heartbeat(utc=rig.clock.utc(), listeners=rig.hub.listeners))


class EventStream(PatientStream):
    """Ends the subscription with the connection, and lets go of a client that does not take what it is sent."""

    media_type = "text/event-stream"
    slow_s, of = SLOW_S, "the event stream"

    _open: ClassVar[Counter[int | None]] = Counter()

    def __init__(self, chunks: AsyncIterator[bytes], session: int | None) -> None:
        """Raises HTTPException 503 where there are too many. `session` is None for this machine itself."""
        theirs = 0 if session is None else self._open[session]
        if theirs >= MOST_EACH or self._open.total() >= MOST:
            whose = "this device follows" if theirs >= MOST_EACH else "others follow"
            raise HTTPException(503, f"{whose} the rig too many times at once", headers={"Retry-After": "30"})
        super().__init__(chunks, headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"})
        self._session = session

    async def stream_response(self, send: Send) -> None:
        self._open[self._session] += 1
        try:
            await super().stream_response(send)
        finally:
            self._open[self._session] -= 1
            if not self._open[self._session]:
                del self._open[self._session]
