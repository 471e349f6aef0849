"""Orders that are done once, however often they come: a phone whose link broke asks again under the same key.

The header is that of the IETF's draft-ietf-httpapi-idempotency-key-header, "The Idempotency-Key HTTP Header Field": a
text in quotes, which may be left out here, that is new for each new order.
"""

from __future__ import annotations

import asyncio
import hashlib
from dataclasses import dataclass, field
from typing import Any

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.body_limit import BODY_LIMIT
from api.problems import answer

HEADER = "Idempotency-Key"
LONGEST = 64
"""Characters of a key."""

KEPT_S = 600.0
"""Wall seconds for which an answer is given again."""

OF_A_SESSION, OF_ALL = 16, 128
"""Answers that are kept at most; the oldest goes first."""

ANSWER_BYTES = 64 * 1024
"""A larger one, such as a rehearsal's curves, is not kept: nothing on the rig was changed for it."""

_SECRET = ("/api/v1/session", "/api/v1/sessions")
"""Calls whose answers let somebody in: told once, and kept nowhere."""

_Key = tuple[int | None, str]


@dataclass(slots=True)
class _Order:
    """An order in hand, or its answer. `asked` is the SHA-256 of what was asked."""

    asked: bytes
    done: asyncio.Event = field(default_factory=asyncio.Event)
    answer: list[Message] = field(default_factory=list)
    size: int = 0
    ended_mono: float | None = None

    @property
    def keeps(self) -> bool:
        """Whether its answer is whole and worth giving again: where the rig failed, asking again may well help."""
        whole = bool(self.answer) and not self.answer[-1].get("more_body", False) and len(self.answer) > 1
        return whole and self.answer[0]["status"] < 499 and self.size <= ANSWER_BYTES


class Once:
    """ASGI middleware inside the guard: the same key with the same call gives the first answer again, or waits for it.

    With another call or body it is refused: 422. Keys are those of one session; this machine's own are of none.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._orders: dict[_Key, _Order] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        text = _key(scope)
        if text is None:
            await self._app(scope, receive, send)
            return
        where = f"{HEADER} of POST {scope['path']}"
        if not (0 < len(text) <= LONGEST and text.isascii() and text.isprintable()):
            remedy = f"Send 1 to {LONGEST} letters and digits, new for each order"
            refusal = answer(422, "bad-idempotency-key", "this is no key", where=where, remedy=remedy)
            await refusal(scope, receive, send)
            return
        came = await _body(receive)
        if came[-1].get("more_body", False) or came[-1]["type"] != "http.request":  # too much of it, or cut off
            await self._app(scope, _again(came, receive), send)
            return
        session = scope["state"]["visitor"].session
        key, asked = (None if session is None else session.id, text), _asked(scope, came)
        while (known := self._known(key)) is not None:
            if known.asked != asked:
                remedy = "Take a new key for each new order"
                what = "this key was used for another order"
                refusal = answer(422, "idempotency-key-used", what, where=where, remedy=remedy)
                await refusal(scope, receive, send)
                return
            if known.ended_mono is not None:
                for message in known.answer:
                    await send(dict(message))
                return
            await known.done.wait()  # then it has an answer, or it failed and is done here
        await self._do(key, asked, scope, _again(came, receive), send)

    async def _do(self, key: _Key, asked: bytes, scope: Scope, receive: Receive, send: Send) -> None:
        order = self._orders[key] = _Order(asked)

        async def heard(message: Message) -> None:
            order.size += len(message.get("body", b""))
            if order.size <= ANSWER_BYTES:
                order.answer.append(dict(message))
            await send(message)

        try:
            await self._app(scope, receive, heard)
        finally:
            del self._orders[key]
            if order.keeps:
                order.ended_mono = asyncio.get_running_loop().time()
                self._orders[key] = order  # behind all that ended before
                self._make_room(key[0])
            order.done.set()

    def _known(self, key: _Key) -> _Order | None:
        oldest_mono = asyncio.get_running_loop().time() - KEPT_S
        for old in [each for each, order in self._orders.items() if (order.ended_mono or oldest_mono) < oldest_mono]:
            del self._orders[old]
        return self._orders.get(key)

    def _make_room(self, session: int | None) -> None:
        ended = [key for key, order in self._orders.items() if order.ended_mono is not None]
        its_own = [key for key in ended if key[0] == session]
        for key in {*its_own[:-OF_A_SESSION], *ended[:-OF_ALL]}:
            del self._orders[key]


def tell_of_keys(paths: dict[str, Any]) -> None:
    """Name the header at each call of a schema's `paths` that takes it."""
    header = {
        "name": HEADER,
        "in": "header",
        "required": False,
        "description": "new for each new order: asked again under the same one, it is done once",
        "schema": {"type": "string", "pattern": rf"^[A-Za-z0-9_-]{{1,{LONGEST}}}$"},
    }
    for path, calls in paths.items():
        if "post" in calls and _takes_keys(path):
            others = [each for each in calls["post"].get("parameters", []) if each["name"] != HEADER]
            calls["post"]["parameters"] = [*others, header]


def _takes_keys(path: str) -> bool:
    return path.startswith("/api/v1/") and path not in _SECRET


def _key(scope: Scope) -> str | None:
    """The key of an order, without the quotes of the draft; None where there is none."""
    if scope["type"] != "http" or scope["method"] != "POST" or not _takes_keys(scope["path"]):
        return None
    text = Headers(scope=scope).get(HEADER)
    if text is None:
        return None
    text = text.strip()
    return text[1:-1] if len(text) > 1 and text[0] == text[-1] == '"' else text


async def _body(receive: Receive) -> list[Message]:
    """The request's body as it came; no more than anybody may send."""
    came, size = [await receive()], 0
    while came[-1].get("more_body", False):
        size += len(came[-1].get("body", b""))
        if size > BODY_LIMIT:
            break
        came.append(await receive())
    return came


def _again(came: list[Message], receive: Receive) -> Receive:
    left = iter(came)

    async def replayed() -> Message:
        return next(left, None) or await receive()

    return replayed


def _asked(scope: Scope, came: list[Message]) -> bytes:
    kind = Headers(scope=scope).get("content-type", "").encode()
    parts = [scope["path"].encode(), scope.get("query_string", b""), kind]
    body = b"".join(message.get("body", b"") for message in came)
    return hashlib.sha256(b"\0".join([*parts, body])).digest()
