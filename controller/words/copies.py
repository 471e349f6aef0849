"""Second places of a rig's files, and what is copied where."""

from __future__ import annotations

from pydantic import Field

from controller.words.documents import Document, PlaceNow


class PlaceCopies(PlaceNow):
    """The same with all that the log has of it."""

    copied: int = Field(description="frames with a verified copy there")
    copied_bytes: int
    waiting_bytes: int
    stuck: list[str] = Field(default_factory=list, description="frames that cannot be copied, each with its reason")


class Copies(Document):
    """What is copied where, and what waits."""

    trouble: str | None = Field(None, description="why places.toml cannot be used; nothing is copied or deleted then")
    places: list[PlaceCopies] = Field(default_factory=list)
    rig_freed: int = Field(0, description="frames whose files were deleted from the rig after they were copied")
    card_freed: int = Field(0, description="frames whose files were deleted from a card after they were copied")
