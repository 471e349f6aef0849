"""What a check of the rig comes to, over REST and on the command line."""

from __future__ import annotations

from pydantic import Field

from controller.words.documents import Document
from controller.words.settings import Finding, Setting


class Mended(Document):
    """One setting that was to be mended."""

    camera: str
    setting: Setting
    value: str = Field(description="the body's own text, as it was wanted")
    refusal: str | None = Field(None, description="why the body did not take it; null where it did")


class Checked(Document):
    """Every finding, the worst first."""

    plan: str | None = Field(description="name of the plan that was checked for")
    ready: bool = Field(description="nothing failed")
    summary: str
    findings: list[Finding]
    mended: list[Mended] = Field(default_factory=list)
