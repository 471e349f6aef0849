"""Plans as TOML over REST: what comes with Content-Type application/toml is read as the same document in JSON."""

from __future__ import annotations

import json
from collections.abc import Callable, Coroutine
from datetime import date, datetime, time
from typing import Any

from fastapi import Request, Response
from fastapi.routing import APIRoute
from starlette.types import Message

from controller.decide.plan import read_toml
from controller.words.errors import BadInput

TOML = "application/toml"

IN_TOML: dict[str, Any] = {"requestBody": {"content": {TOML: {"schema": {"type": "string"}}}}}
"""For the schema of a call that takes it."""


class TomlRoute(APIRoute):
    """A route that takes its document as TOML too."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        handle = super().get_route_handler()

        async def read(request: Request) -> Response:
            kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
            return await handle(await _as_json(request) if kind == TOML else request)

        return read


async def _as_json(request: Request) -> Request:
    try:
        text = (await request.body()).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput("bad-plan", "not UTF-8 text", "body", "Send it as UTF-8") from None
    try:
        body = json.dumps(read_toml(text), default=_written).encode()
    except BadInput as error:
        error.where = error.where or "body"
        raise
    except (ValueError, RecursionError) as error:  # a number of thousands of digits, tables in tables without end
        raise BadInput("bad-plan", f"not TOML that can be read: {error}", "body", "Write plain tables") from None
    kept = [(key, value) for key, value in request.headers.raw if key not in (b"content-type", b"content-length")]
    read = iter([{"type": "http.request", "body": body, "more_body": False}])

    async def receive() -> Message:
        return next(read, None) or await request.receive()

    headers = [*kept, (b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    return Request({**request.scope, "headers": headers}, receive)


def _written(value: object) -> str:
    """Days and times, which JSON has as texts."""
    assert isinstance(value, date | datetime | time)
    return value.isoformat()
