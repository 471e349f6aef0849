"""Who may do what from another machine."""

from __future__ import annotations

from enum import StrEnum

from pydantic import Field

from controller.words.documents import Document
from controller.words.times import Utc


class Rights(StrEnum):
    ALL = "all"
    VIEW = "view"  # sees everything, changes nothing


class Session(Document):
    """A phone or a script that was let in."""

    id: int
    name: str
    rights: Rights
    created_utc: Utc
    seen_utc: Utc | None = Field(None, description="when it last asked for something, to the hour")


class Invitation(Document):
    """A code that lets one device in, once."""

    code: str
    rights: Rights
    for_s: float = Field(description="seconds for which it holds")


class Admitted(Document):
    """A device that was let in, and the secret that it shows from now on. Nobody can be told that again."""

    session: Session
    secret: str
