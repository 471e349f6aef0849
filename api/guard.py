"""Who may ask what: the door of the rig. docs/threat-model.md says against whom.

This machine itself is let in; everybody else needs a session, whose secret comes as a cookie or as a bearer token. What
a page of another site makes a browser ask is refused, from wherever it comes.
"""

from __future__ import annotations

import ipaddress
import os
import secrets
import socket
from typing import NamedTuple

from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.problems import answer
from api.rig import Rig
from controller.words.access import Rights, Session

COOKIE = "duskhand"
_SAFE = frozenset({"GET", "OPTIONS"})
_FOR_ALL = frozenset({("POST", "/api/v1/session"), ("GET", "/api/v1/session")})
_TAKES_THE_CAMERA = ("live.mjpeg", "focus")  # GET, yet it is felt on the rig
_PAIR = "Have a phone with access show a code, or the rig by `duskhand pair`, and enter it on the page"


class Visitor(NamedTuple):
    """Who asks. `session` is None for this machine itself, and for DUSKHAND_TOKEN."""

    rights: Rights | None
    session: Session | None


class Guard:
    """ASGI middleware; the visitor of a request is at `scope["state"]["visitor"]`."""

    def __init__(self, app: ASGIApp, rig: Rig) -> None:
        self._app, self._rig = app, rig
        self._token = os.environ.get("DUSKHAND_TOKEN", "")

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        asked = HTTPConnection(scope)
        method, path = scope["method"], scope["path"]
        visitor = await self._visitor(asked)
        scope.setdefault("state", {})["visitor"] = visitor
        refusal = _foreign(asked, method, path) or _refusal(visitor, method, path)
        if refusal is not None:
            await refusal(scope, receive, send)
            return
        await self._app(scope, receive, self._while_it_holds(visitor, send))

    async def _visitor(self, asked: HTTPConnection) -> Visitor:
        scheme, _, token = asked.headers.get("authorization", "").partition(" ")
        shown = token.strip() if scheme.lower() == "bearer" else asked.cookies.get(COOKIE, "")
        if shown:
            if self._token and secrets.compare_digest(shown.encode(), self._token.encode()):
                return Visitor(Rights.ALL, None)
            session = await self._rig.access.who(shown)
            if session is not None:
                return Visitor(session.rights, session)
        return Visitor(Rights.ALL if _is_here(asked) else None, None)

    def _while_it_holds(self, visitor: Visitor, send: Send) -> Send:
        """An answer that goes on, such as the event stream, ends once its session is revoked."""
        session = visitor.session
        if session is None:
            return send
        ended = False

        async def guarded(message: Message) -> None:
            nonlocal ended
            if ended:
                return
            if message["type"] == "http.response.body" and not self._rig.access.holds(session):
                ended = True
                message = {"type": "http.response.body", "body": b"", "more_body": False}
            await send(message)

        return guarded


def _is_here(asked: HTTPConnection) -> bool:
    """From this machine, under its own name, and not passed on: another site's name may be led here by its owner."""
    passed_on = any(name in asked.headers for name in ("forwarded", "x-forwarded-for", "x-real-ip", "via"))
    own = asked.scope.get("server") or ("", 0)
    if passed_on or asked.client is None:
        return False
    if not loopback(asked.client.host) and asked.client.host != own[0]:  # from the address that it is asked at
        return False
    name = _name(asked.headers.get("host", ""))
    return name in ("localhost", socket.gethostname().lower()) or _is_address(name)


def _name(host: str) -> str:
    """The name in a Host header, without its port."""
    host = host.strip().lower()
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host.partition(":")[0]


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def loopback(host: str) -> bool:
    """Whether an address is this machine's own."""
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return False
    mapped = getattr(address, "ipv4_mapped", None)
    return (mapped or address).is_loopback


def _foreign(asked: HTTPConnection, method: str, path: str) -> ASGIApp | None:
    """Refuses what a page of another site asks for (Fetch Metadata; the Origin header, RFC 6454)."""
    foreign = asked.headers.get("sec-fetch-site", "none") in ("cross-site", "same-site")
    origin = asked.headers.get("origin")
    ours = origin is None or origin.partition("://")[2].lower() == asked.headers.get("host", "").lower()
    changes = method not in _SAFE
    if (changes and not ours) or (foreign and (changes or path.startswith("/api/"))):
        what = "a page of another site asked for this"
        return answer(403, "foreign-page", what, where=f"{method} {path}", remedy="Use the rig's own page")
    return None


def _refusal(visitor: Visitor, method: str, path: str) -> ASGIApp | None:
    """What this visitor may not ask; None where it may."""
    where = f"{method} {path}"
    on_page = method == "GET" and not path.startswith(("/api/", "/healthz", "/metrics", "/openapi"))
    if visitor.rights is Rights.ALL or on_page or (method, path) in _FOR_ALL:
        return None
    if visitor.rights is None:
        headers = {"WWW-Authenticate": 'Bearer realm="duskhand"'}
        return answer(
            401, "not-paired", "this device is not paired with the rig", where=where, remedy=_PAIR, headers=headers
        )
    if method not in _SAFE or path.endswith(_TAKES_THE_CAMERA):
        remedy = "Ask whoever runs the rig, or pair anew with all rights"
        return answer(403, "view-only", "this device may look, and change nothing", where=where, remedy=remedy)
    return None
