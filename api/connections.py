"""Connections with an end to their patience: who sends or takes too slowly, or holds too many, is let go.

Uvicorn bounds what idles between requests only. What a request may carry is bounded in `api/body_limit.py`, an event
stream that nobody reads in `api/patient.py`.
"""

from __future__ import annotations

import asyncio
import logging
from http import HTTPStatus
from typing import Any, cast

import h11
from starlette.responses import Response
from uvicorn.protocols.http.h11_impl import H11Protocol

from api.guard import loopback
from api.problems import answer

log = logging.getLogger(__name__)
log.setLevel(logging.ERROR)  # a line for each request that is none would let anybody fill the journal

REQUEST_S = 20.0
"""Seconds in which a request must be here whole, body included, from when its connection or its first byte came."""

LINGER_S = 1.0
"""Seconds that are left to a client to read an answer while it still sends (RFC 9112, section 9.6)."""

TAKE_S = 30.0
"""Seconds in which a client must take what fills a connection's buffer of 64 KiB."""

MOST, MOST_EACH = 400, 24
"""Connections in all, and from one address of another machine. A browser holds up to six."""


class Connection(H11Protocol):
    """One connection, as uvicorn serves it."""

    _request: asyncio.TimerHandle | None = None
    _taking: asyncio.TimerHandle | None = None

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self.logger = log

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        others = cast("set[Connection]", self.connections) - {self}
        host = self.client[0] if self.client else ""
        theirs = 0 if loopback(host) else sum(other.client is not None and other.client[0] == host for other in others)
        if len(others) >= MOST or theirs >= MOST_EACH:
            whose = "this address holds" if theirs >= MOST_EACH else "others hold"
            what, remedy = f"{whose} too many connections", "Close some, and try again"
            self._refuse(answer(503, "too-many-connections", what, remedy=remedy, headers=_CLOSE))
            return
        self._request = self.loop.call_later(REQUEST_S, transport.abort)

    def data_received(self, data: bytes) -> None:
        if self.transport.is_closing():
            return
        super().data_received(data)
        if self.conn.their_state not in (h11.IDLE, h11.SEND_BODY):
            _cancel(self._request)
            self._request = None
        elif self._request is None:
            self._request = self.loop.call_later(REQUEST_S, self.transport.abort)

    def on_response_complete(self) -> None:
        super().on_response_complete()
        if self.conn.their_state is h11.SEND_BODY:  # answered before it was all here, such as one that is too large
            _cancel(self._request)
            self._request = self.loop.call_later(LINGER_S, self.transport.abort)

    def pause_writing(self) -> None:
        super().pause_writing()
        self._taking = self._taking or self.loop.call_later(TAKE_S, self.transport.abort)

    def resume_writing(self) -> None:
        _cancel(self._taking)
        self._taking = None
        super().resume_writing()

    def connection_lost(self, exc: Exception | None) -> None:
        _cancel(self._request)
        _cancel(self._taking)
        super().connection_lost(exc)

    def send_400_response(self, msg: str) -> None:
        remedy = "Use http:// or https:// as the rig is served"
        self._refuse(answer(400, "bad-http", "this is no HTTP request", remedy=remedy, headers=_CLOSE))

    def _refuse(self, refusal: Response) -> None:
        """A problem document, and the end of the connection."""
        status = f"HTTP/1.1 {refusal.status_code} {HTTPStatus(refusal.status_code).phrase}"
        lines = [status.encode(), *(b": ".join(pair) for pair in refusal.raw_headers)]
        self.transport.write(b"\r\n".join([*lines, b"", bytes(refusal.body)]))
        self.transport.close()


_CLOSE = {"Connection": "close"}


def _cancel(timer: asyncio.TimerHandle | None) -> None:
    if timer is not None:
        timer.cancel()
