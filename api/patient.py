"""A stream without an end: closed with the connection, and a client that does not take what it is sent is let go."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncGenerator
from contextlib import aclosing
from typing import ClassVar, cast

from fastapi.responses import StreamingResponse
from starlette.types import Send

log = logging.getLogger(__name__)


class PatientStream(StreamingResponse):
    """`slow_s` are the wall seconds in which a client must take each part; `of` names the stream in the log."""

    slow_s: ClassVar[float]
    of: ClassVar[str]

    async def stream_response(self, send: Send) -> None:
        await send({"type": "http.response.start", "status": self.status_code, "headers": self.raw_headers})
        async with aclosing(cast("AsyncGenerator[bytes]", self.body_iterator)) as chunks:
            async for chunk in chunks:
                try:
                    async with asyncio.timeout(self.slow_s):
                        await send({"type": "http.response.body", "body": chunk, "more_body": True})
                except TimeoutError:
                    log.warning("a client of %s took nothing for %.0f s and was let go", self.of, self.slow_s)
                    return
        await send({"type": "http.response.body", "body": b"", "more_body": False})
