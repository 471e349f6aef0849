"""Notes of the rig itself, and of what concerns every shoot; what one shoot has to note goes through its own book."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from typing import Any, Protocol

from controller.engine.book import Book
from controller.engine.hub import Hub
from controller.store import Store
from controller.words.clock import Clock
from controller.words.documents import Note
from controller.words.errors import DuskhandError

log = logging.getLogger(__name__)


class Noting(Protocol):
    """What is needed of a rig."""

    clock: Clock
    store: Store
    hub: Hub


async def note(
    rig: Noting, kind: str, text: str, *, shoot: str | None = None, level: int = logging.INFO, **facts: Any
) -> None:
    """Keep it in the log and tell listeners; where that fails it stands in the service's log."""
    code = facts.get("code") or facts.get("check")
    told = {"shoot": shoot, "camera": facts.get("camera"), "kind": kind, "code": code}
    log.log(level, "%s: %s", kind, text, extra={"duskhand": told})
    try:
        kept = await rig.store.note(Note(utc=rig.clock.utc(), shoot=shoot, kind=kind, text=text, facts=facts))
        rig.hub.publish("note", kept)
    except DuskhandError as error:
        log.error("%s; nor could that be noted: %s", text, error)


async def note_in(
    rig: Noting, books: Iterable[Book], kind: str, text: str, *, level: int = logging.INFO, **facts: Any
) -> None:
    """Into each of these books, those of the shoots that it concerns; into the rig's own log where there are none."""
    utc, there = rig.clock.utc(), [*books]
    for book in there:
        await book.note(kind, text, utc, **facts)
    if not there:
        await note(rig, kind, text, level=level, **facts)
