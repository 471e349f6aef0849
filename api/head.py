"""HEAD: what a GET would be answered with, without the content (RFC 9110, section 9.3.2)."""

from __future__ import annotations

import asyncio

from starlette.types import ASGIApp, Message, Receive, Scope, Send


class Head:
    """ASGI middleware, outside all others: asks as GET does, and ends the work once the header fields are known.

    So a stream that never ends is answered too, and a film is not read.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self._app(scope, receive, send)
            return
        known = asyncio.Event()

        async def headed(message: Message) -> None:
            if message["type"] == "http.response.start":
                await send(message)
                await send({"type": "http.response.body", "body": b""})
                known.set()

        work = asyncio.ensure_future(self._app({**scope, "method": "GET"}, receive, headed))
        waiting = asyncio.create_task(known.wait())
        try:
            await asyncio.wait({work, waiting}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            waiting.cancel()
            if known.is_set() or not work.done():
                work.cancel()
                await asyncio.wait({work})
        if not known.is_set():
            await work
