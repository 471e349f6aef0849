"""What is asked of a film over REST: how it is made, and which frames of which shoots it shows."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import ConfigDict, Field, model_validator

from controller.results.clip.options import ClipWanted
from controller.results.series.wanted import HourBest, Wanted, wanted_of
from controller.words.documents import Document

_MOST_SHOOTS = 100
_Id = Annotated[str, Field(min_length=1, max_length=255)]


class FramesAsked(Document):
    """Which frames; what is not given leaves none out.

    Raises BadInput('bad-series') itself, which pydantic lets through.
    """

    model_config = ConfigDict(frozen=True, allow_inf_nan=False)

    series: str | None = Field(
        None,
        max_length=80,
        description="one frame a day, sun-azimuth=DEG or sun-altitude=DEG,morning or …,evening; or hour-best",
    )
    within: float | None = Field(
        None, gt=0, le=90, description="degrees from the sun's wanted place, for one frame a day; left out: 3"
    )
    skip: tuple[str, ...] = Field((), max_length=3, description="of fog, drops (on the lens), night those to leave out")
    days: str | None = Field(None, max_length=80, description="local days, such as 2026-12-01..2027-05-31")
    shoots: tuple[_Id, ...] = Field(
        (), max_length=_MOST_SHOOTS, description="ids of other shoots of this rig, whose frames join by time"
    )

    @model_validator(mode="after")
    def _readable(self) -> Self:
        self.wanted()
        return self

    def wanted(self) -> Wanted | None:
        """None: every frame of every day."""
        within = None if self.within is None else f"{self.within:g}"
        return wanted_of(self.series, within, ",".join(self.skip) or None, self.days)

    @property
    def plain(self) -> bool:
        """Every frame of one shoot."""
        return self.wanted() is None and not self.shoots

    @property
    def measured(self) -> bool:
        """Whether every picture has to be looked at to know which are shown."""
        wanted = self.wanted()
        return wanted is not None and (bool(wanted.skip) or isinstance(wanted.series, HourBest))

    def __str__(self) -> str:
        """For people; empty where it is simply the shoot."""
        others = self.shoots[0] if len(self.shoots) == 1 else f"{len(self.shoots)} other shoots"
        return ", ".join(filter(None, (str(self.wanted() or ""), f"joined with {others}" if self.shoots else "")))


class ClipAsked(ClipWanted, FramesAsked):
    """All of it in one body."""

    def options(self) -> dict[str, Any]:
        """How it is made, as ClipOptions are written."""
        return self.model_dump(mode="json", exclude_none=True, include=set(ClipWanted.model_fields))

    def frames(self) -> FramesAsked:
        """Which it shows."""
        return FramesAsked(**{name: getattr(self, name) for name in FramesAsked.model_fields})
