"""A limit to what a request may carry.

FastAPI has one, but answers in plain text where the length was declared; errors here are problem documents.
"""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

BODY_LIMIT = 256 * 1024
"""Bytes of a request's body; a plan is far smaller."""


class BodyLimit:
    """ASGI middleware: whoever reads more than the limit of a body gets HTTPException 413."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        received = 0

        async def counted() -> Message:
            nonlocal received
            message = await receive()
            received += len(message.get("body", b""))
            if received > BODY_LIMIT:
                raise HTTPException(413, f"the body is larger than {BODY_LIMIT} bytes")
            return message

        await self.app(scope, counted, send)
