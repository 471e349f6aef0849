"""Who may reach the rig from another machine: let in by a code that is shown on the rig, once.

A code holds for minutes and dies with a few wrong guesses; what a device shows from then on is random and long, and
only its hash is kept. Codes live in memory: a restart voids them.
"""

from __future__ import annotations

import contextlib
import hashlib
import secrets
import time
from collections.abc import Callable
from typing import NamedTuple

from controller.store import Store
from controller.words.access import Admitted, Invitation, Rights, Session
from controller.words.errors import Conflict, DuskhandError, StoreError

CODE_S = 600.0
"""Seconds for which a code holds."""

TRIES = 5
"""Wrong guesses, by anybody, after which a code is void."""

MOST_SESSIONS = 200

LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
"""None that is taken for another on a dark screen. Eight of them are 39 bits."""

_SEEN_EVERY_S = 3600.0  # a card is not worn for this


class Refused(DuskhandError):
    """Who asked is not let in."""


class _Open(NamedTuple):
    code: str
    rights: Rights
    until_mono: float
    tries: int


class Access:
    """`now_utc` is the wall's clock, `mono` one that never steps."""

    def __init__(
        self, store: Store, *, now_utc: Callable[[], float] = time.time, mono: Callable[[], float] = time.monotonic
    ) -> None:
        self._store, self._now_utc, self._mono = store, now_utc, mono
        self._sessions: dict[bytes, Session] = {}
        self._open: _Open | None = None

    async def load(self) -> None:
        """Read who was let in before. Raises StoreError."""
        self._sessions = await self._store.sessions()

    # ---- letting in

    def invite(self, rights: Rights = Rights.ALL) -> Invitation:
        """A new code, in the place of the last one."""
        code = "".join(secrets.choice(LETTERS) for _ in range(8))
        self._open = _Open(code, rights, self._mono() + CODE_S, TRIES)
        return Invitation(code=f"{code[:4]}-{code[4:]}", rights=rights, for_s=CODE_S)

    async def pair(self, code: str, name: str) -> Admitted:
        """Let a device in. Raises Refused (bad-code) for a code that is not the one that is shown, Conflict."""
        asked = "".join(letter for letter in code.upper() if letter in LETTERS)
        known = self._open
        if known is None or self._mono() > known.until_mono:
            self._open = None
            raise _bad_code("no code is waited for")
        if not secrets.compare_digest(asked, known.code):
            left = known.tries - 1
            self._open = known._replace(tries=left) if left > 0 else None
            raise _bad_code("that is not the code" if left > 0 else "that was wrong too often; the code is void")
        self._open = None
        return await self.admit(name, known.rights)

    async def admit(self, name: str, rights: Rights) -> Admitted:
        """A session with a fresh secret. Raises Conflict (too-many-sessions)."""
        if len(self._sessions) >= MOST_SESSIONS:
            what = f"{MOST_SESSIONS} devices have access"
            remedy = "Take it from one: on a phone that may change all, or by duskhand pair --revoke on the rig"
            raise Conflict("too-many-sessions", what, remedy=remedy)
        secret = secrets.token_urlsafe(32)
        session = await self._store.add_session(name.strip() or "unnamed", rights, _hash(secret), self._now_utc())
        self._sessions[_hash(secret)] = session
        return Admitted(session=session, secret=secret)

    # ---- who is it

    async def who(self, secret: str) -> Session | None:
        """Whose secret that is."""
        session = self._sessions.get(_hash(secret))
        if session is not None and self._now_utc() - (session.seen_utc or session.created_utc) > _SEEN_EVERY_S:
            session = session.model_copy(update={"seen_utc": self._now_utc()})
            self._sessions[_hash(secret)] = session
            with contextlib.suppress(StoreError):  # a full disk shuts nobody out; it is told where frames are logged
                await self._store.session_seen(session.id, self._now_utc())
        return session

    def holds(self, session: Session) -> bool:
        """Whether it has not been revoked."""
        return any(known.id == session.id for known in self._sessions.values())

    @property
    def sessions(self) -> list[Session]:
        return list(self._sessions.values())

    async def revoke(self, session: int) -> None:
        """Take the access away, at once. Raises NotFound."""
        await self._store.revoke_session(session)
        self._sessions = {secret: known for secret, known in self._sessions.items() if known.id != session}


def _hash(secret: str) -> bytes:
    return hashlib.sha256(secret.encode("utf-8", "replace")).digest()


def _bad_code(what: str) -> Refused:
    return Refused("bad-code", what, "code", "Have a phone that has access show a new one, or duskhand pair on the rig")
