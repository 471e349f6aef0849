"""What a hand-over came to."""

from __future__ import annotations

from pydantic import Field

from controller.words.documents import Document


class HandedOver(Document):
    """A folder as it is after a run; `copied` counts what this run sent, `there` what lay there already, whole."""

    shoot: str
    where: str = Field(description="the folder, or the second place and the folder in it")
    name: str | None = Field(description="the pattern of the pictures' names; null where they keep the rig's")
    slots: int = Field(description="slots of the log, a row each in frames.csv")
    frames: int = Field(description="released, and not known to be lost")
    pictures: int = Field(0, description="picture files in the folder, whole; a RAW+JPEG pair is two")
    previews: int = Field(0, description="small pictures in the folder, of frames whose own files are not in it")
    copied: int = 0
    there: int = 0
    sidecars: int = 0
    sidecars_kept: int = Field(0, description="that another has changed since, and that were left so")
    documents: list[str] = Field(default_factory=list, description="all other files, by name")
    only_on_card: int = 0
    missing: dict[str, int] = Field(
        default_factory=dict,
        description="why a file is not in the folder, and of how many; missing.csv has each",
    )
    failed: int = Field(0, description="files that should be on the rig and could not be handed over")
    remarks: list[str] = Field(default_factory=list, description="for people")

    @property
    def whole(self) -> bool:
        """All that the rig has is in the folder."""
        return self.failed == 0
