"""The table [messages] of rig.toml: how often, when, and in which file the addresses stand."""

from __future__ import annotations

from datetime import time
from typing import Annotated, Self
from zoneinfo import ZoneInfo

from pydantic import Field, Strict, model_validator

from controller.decide.plan.tables import Table
from controller.decide.plan_errors import refuse, shown


class Messages(Table):
    """Addresses are secrets, so they never stand in rig.toml itself, which is shown and copied."""

    addresses_file: Annotated[
        str, Field(min_length=1, description="one address a line, readable by its owner alone; may be relative")
    ] = "messages.addresses"
    per_hour: Annotated[int, Strict(), Field(ge=1, le=60, description="messages at most")] = 6
    digest: (
        Annotated[
            str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$", description="time of day of the digest; left out: none")
        ]
        | None
    ) = None
    timezone: Annotated[str, Field(description="of the digest and of times in messages")] | None = None
    picture: Annotated[bool, Strict(), Field(description="the digest carries the last good picture")] = False
    name: Annotated[str, Field(min_length=1, max_length=60, description="what the rig is called in messages")] = (
        "Duskhand"
    )

    @model_validator(mode="after")
    def _sense(self) -> Self:
        if self.timezone is not None:
            try:
                ZoneInfo(self.timezone)
            except (KeyError, ValueError, OSError):
                remedy = 'Write it as "Europe/Stockholm"'
                refuse("timezone", f"{shown(self.timezone)} is no zone of the IANA database", remedy)
        return self

    @property
    def digest_at(self) -> time | None:
        return None if self.digest is None else time.fromisoformat(self.digest)
