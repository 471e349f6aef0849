"""The rig's messages to people: what waits is sent one after the other, by a process that may hang or fail alone."""

from __future__ import annotations

import asyncio
import json
import logging
import time
from collections.abc import Awaitable, Callable
from dataclasses import asdict, replace
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from controller.decide.messages.document import Messages
from controller.decide.messages.outbox import MOST_WAITING, Message, Outbox, Parcel
from controller.store.addresses import addresses
from controller.store.files import write_atomic
from controller.words.documents import PostNow
from controller.words.errors import BadInput, Conflict, DuskhandError, StoreError
from controller.words.sending import Sending

log = logging.getLogger(__name__)

FILE = "messages.json"
LOOK_EVERY_S = 10.0
UNREADABLE = (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError)
"""What taking up a JSON document may raise that is torn, or of another version."""


Send = Callable[..., Awaitable[dict[str, Any]]]
"""Sends `title`, `body` and the file `picture` to every address in the file `file`; a Sending. Raises DuskhandError."""


class Post:
    """Of one rig. `rules` is its table [messages], None where nobody is to be told."""

    def __init__(
        self, directory: Path, rules: Messages | None, send: Send, mono: Callable[[], float] = time.monotonic
    ) -> None:
        self._directory, self.rules, self._send, self._mono = directory, rules, send, mono
        self.box = Outbox(per_hour=rules.per_hour) if rules else Outbox()
        self.zone: tzinfo = UTC
        self.trouble: str | None = None
        self._of_addresses: str | None = None
        self.last_utc: float | None = None
        self._kept = b""
        self.unread: str | None = None  # why what waited could not be taken up
        self._sending: asyncio.Task[None] | None = None

    def open(self) -> None:
        """Take up what waited when the rig ended, and see that there are addresses to send it to."""
        if self.rules is None:
            return
        self.see_addresses()
        if self.rules.timezone is not None:
            self.zone = ZoneInfo(self.rules.timezone)
        path = self._directory / FILE
        if not path.exists():
            return
        try:
            kept = json.loads(path.read_bytes())
            waiting = tuple(Message(**one) for one in kept["waiting"][-MOST_WAITING:])
            lately = min(int(kept["sent"]), self.rules.per_hour)  # when, by a clock that has begun anew, is not known
            self.box = replace(
                self.box,
                waiting=waiting,
                told=frozenset(map(str, kept["told"])),
                sent_mono=(self._mono(),) * lately,
                unsaid=int(kept["unsaid"]),
                dropped=int(kept["dropped"]),
            )
        except UNREADABLE as error:
            self.unread = f"{path} cannot be read, and messages that waited are lost: {error!r}"

    def see_addresses(self) -> None:
        """Trouble where the addresses cannot be used, rather than when the first message is due."""
        if self.rules is None:
            return
        try:
            addresses(self._directory / self.rules.addresses_file)
        except BadInput as error:
            self._of_addresses = self.trouble = str(error)
            log.warning("messages cannot be sent: %s", error)
        else:
            if self.trouble == self._of_addresses:
                self.trouble = None

    async def close(self) -> None:
        """What is on its way goes on waiting."""
        if self._sending is not None:
            self._sending.cancel()
            await asyncio.gather(self._sending, return_exceptions=True)
        self.box = replace(self.box, on_way=())
        await self.keep()

    def put(self, message: Message) -> None:
        """One more to tell; nothing where nobody is to be told."""
        if self.rules is not None:
            self.box = self.box.put(message)

    def take_counts(self) -> tuple[int, int]:
        """How many were never told of since the last call, and how many were dropped."""
        counts = self.box.unsaid, self.box.dropped
        self.box = replace(self.box, unsaid=0, dropped=0)
        return counts

    async def look(self) -> None:
        """Send what is due; returns at once, whatever the network does."""
        await self.keep()
        if self.rules is None or self._sending is not None:
            return
        parcel = self.box.next(self._mono(), self._clock)
        if parcel is not None:
            self.box = self.box.sending(parcel)
            self._sending = asyncio.create_task(self._go(parcel))

    def _clock(self, utc: float) -> str:
        return f"{datetime.fromtimestamp(utc, UTC).astimezone(self.zone):%a %d %b %H:%M}"

    async def _go(self, parcel: Parcel) -> None:
        try:
            ok, why = await self._deliver(parcel.title, parcel.body, parcel.picture)
            self.trouble = why or None
            self.box = self.box.sent(parcel, self._mono()) if ok else self.box.failed(self._mono())
            if ok:
                self.last_utc = time.time()
            outcome = "sent" if ok else "not sent"
            log.log(logging.WARNING if why else logging.INFO, "message %s: %s", outcome, why or parcel.title)
        finally:
            self._sending = None
        await self.keep()

    async def _deliver(self, title: str, body: str, picture: str | None) -> tuple[bool, str]:
        rules = self.rules
        assert rules is not None
        path = None if picture is None else self._directory / picture
        try:
            there = path is not None and await asyncio.to_thread(path.is_file)
            came = await self._ask(rules, title, body, path if there else None)
        except DuskhandError as error:
            return False, str(error)
        except Exception as error:  # else it would be on its way for ever, and every later one behind it
            log.exception("a message could not be tried")
            return False, f"internal trouble: {error or type(error).__name__}"
        return came.ok, came.why

    async def _ask(self, rules: Messages, title: str, body: str, picture: Path | None = None) -> Sending:
        """To every address; one that keeps silent ends with the others at the end of the process's patience."""
        task = {"file": str(self._directory / rules.addresses_file), "picture": picture and str(picture)}
        try:
            return Sending.model_validate(await self._send(title=f"{rules.name}: {title}", body=body, **task))
        except BadInput as error:
            if error.code != "too-long":
                raise
            remedy = "Look at the rig's network, and at the addresses one by one"
            raise DuskhandError("messages-slow", "the far side did not answer in time", "[messages]", remedy) from None

    async def test(self) -> Sending:
        """Send a test message now, past queue and limits.

        Raises Conflict (no-messages), BadInput (bad-addresses), DuskhandError (messages-slow).
        """
        rules = self.rules
        if rules is None:
            remedy = "Write [messages] into rig.toml, see docs/watching.md, and start the service again"
            raise Conflict("no-messages", "nobody is to be told", "rig.toml", remedy)
        came = await self._ask(rules, "test", "A test. Findings and the digest will come to this address.")
        if not came.why or self.trouble == self._of_addresses:
            self.trouble = None
        return came

    def now(self) -> PostNow | None:
        """What waits, and what became of the last; None where nobody is to be told."""
        if self.rules is None:
            return None
        return PostNow(waiting=len(self.box.waiting), trouble=self.trouble, last_utc=self.last_utc)

    async def keep(self) -> None:
        """Write down what waits, where that has changed."""
        if self.rules is None:
            return
        box = self.box
        document = {
            "waiting": [asdict(message) for message in box.waiting],
            "told": sorted(box.told),
            "sent": sum(self._mono() - 3600 < at for at in box.sent_mono),
            "unsaid": box.unsaid,
            "dropped": box.dropped,
        }
        content = json.dumps(document, ensure_ascii=False).encode()
        if content == self._kept:
            return
        try:
            await asyncio.to_thread(write_atomic, self._directory / FILE, content)
            self._kept = content
        except StoreError as error:
            log.warning("messages that wait are not written down: %s", error)
