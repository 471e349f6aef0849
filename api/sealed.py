"""Headers that every answer has: what a browser may make of it, and who may show it."""

from __future__ import annotations

import base64
import hashlib

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SHUT = "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
"""What no answer's policy leaves open."""

HEADERS = {
    "Content-Security-Policy": f"default-src 'none'; {SHUT}",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}
"""Of answers that are no page: `api/page.py` has the page's own policy."""


def hash_of(sheet: str) -> str:
    """A style sheet as a policy lets it in (Content Security Policy Level 3, section 2.3.1)."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(sheet.encode()).digest()).decode()}'"


class Sealed:
    """ASGI middleware: puts these headers where an answer has none of that name."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def sealed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, sealed if scope["type"] == "http" else send)
