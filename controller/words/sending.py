"""What became of a message to people, as the process that sends tells the rig."""

from __future__ import annotations

from pydantic import Field

from controller.words.documents import Document


class Went(Document):
    """What became of a message at one address."""

    number: int = Field(description="place of the address in its file, from 1")
    way: str = Field(description="the first word of the address, such as mailto")
    ok: bool
    why: str | None = Field(None, description="what the far side or the network said; null where it went")


class Sending(Document):
    """What became of one message, at each address."""

    went: list[Went]

    @property
    def ok(self) -> bool:
        """Somebody has it."""
        return any(one.ok for one in self.went)

    @property
    def why(self) -> str:
        """Why nobody has, or not everybody."""
        return "; ".join(f"address {one.number} ({one.way}): {one.why}" for one in self.went if not one.ok)
