"""What the rig refuses, as a small page for whoever opened an address of it in a browser: the words of the problem, and
a way to the page. Scripts, and the page itself, get the problem document."""

from __future__ import annotations

import html
import json
import re

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.page import dressed, theme
from api.problems import MEDIA_TYPE
from api.rig import Rig

_PAGE = """<!doctype html>
<html lang="en" data-theme="{theme}">
<head>
  <meta charset="utf-8">
  {metas}
  <title>Duskhand</title>
  <meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover">
  <style>{sheet}</style>
</head>
<body>
  <main>
    <h1>The rig refuses this</h1>
    <p>{what}</p>
    <p>{remedy}</p>
    <div class="pair"><a class="button" href="{home}">To the page of the rig</a></div>
  </main>
</body>
</html>
"""


class ForPeople:
    """ASGI middleware: a problem that answers a GET with `Accept: text/html` goes out as a page, of the same status."""

    def __init__(self, app: ASGIApp, rig: Rig) -> None:
        self._app, self._rig = app, rig

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] != "GET" or not _wanted(scope):
            await self._app(scope, receive, send)
            return
        held: Message | None = None
        body = b""

        async def put(message: Message) -> None:
            nonlocal held, body
            if message["type"] == "http.response.start" and Headers(scope=message).get("content-type") == MEDIA_TYPE:
                held = message
            elif held is None:
                await send(message)
            else:
                body += message.get("body", b"")
                if not message.get("more_body", False):
                    await self._tell(scope, held, body, send)

        await self._app(scope, receive, put)

    async def _tell(self, scope: Scope, start: Message, body: bytes, send: Send) -> None:
        problem, request = json.loads(body), Request(scope)
        look = theme(request, await self._rig.now())
        metas, sheet, policy = dressed(look)
        home = "../" * (scope["path"].count("/") - 1) or "./"  # right behind a proxy that puts a path before ours, too
        what, remedy = (html.escape(sentence(problem[part])) for part in ("detail", "remedy"))
        page = _PAGE.format(theme=look, metas=metas, sheet=sheet, what=what, remedy=remedy, home=home).encode()
        headers = MutableHeaders(scope=start)
        headers.update({"content-type": "text/html; charset=utf-8", "content-length": str(len(page))})
        headers.update({"content-security-policy": policy, "cache-control": "no-store"})
        headers.add_vary_header("Accept, Cookie")
        await send(start)
        await send({"type": "http.response.body", "body": page})


def _wanted(scope: Scope) -> bool:
    return "text/html" in Headers(scope=scope).get("accept", "")


def sentence(text: str) -> str:
    """As the page writes what the rig says: with a capital and a full stop, and commands as it quotes them."""
    text = re.sub("`([^`]*)`", "“\\1”", text)
    return text and text[0].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")
