"""The table [pace]: the interval from one release to the next."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from controller.decide.plan.tables import Length, Number, SceneEv, Seconds, SunAltitude, Table, length_s
from controller.decide.plan_errors import in_order, refuse


class _Pace(Table):
    min_gap_s: Annotated[
        Number,
        Field(ge=0.05, le=3600, description="from the end of an exposure to the next release, at least, seconds"),
    ] = 1.0
    max_change: Annotated[
        Number,
        Field(ge=0.0001, le=1, description="part of itself by which the interval may change from frame to frame"),
    ] = 0.04
    stretch_to_s: (
        Annotated[Seconds, Field(description="up to which the interval may grow where the exposure wants it, seconds")]
        | None
    ) = None


class Steady(_Pace):
    """One interval throughout."""

    kind: Annotated[Literal["steady"], Field(description="one interval throughout")]
    interval_s: Annotated[Seconds, Field(description="from one release to the next, seconds")]

    def shortest(self) -> tuple[str, float]:
        """The key that asks for the shortest interval, and that interval."""
        return "interval_s", self.interval_s


class Timed(_Pace):
    """From one interval to another, linearly over a length of time from the window's start (default: all of it)."""

    kind: Annotated[Literal["timed"], Field(description="from one interval to another, linearly in time")]
    from_s: Annotated[Seconds, Field(description="first interval, seconds")]
    to_s: Annotated[Seconds, Field(description="last interval, seconds")]
    over: Annotated[Length, Field(description="how long it takes, from the window's start; all of it")] | None = None

    @model_validator(mode="after")
    def _sense(self) -> Self:
        if self.over is not None:
            length_s("over", self.over)
        return self

    def shortest(self) -> tuple[str, float]:
        return min(("from_s", self.from_s), ("to_s", self.to_s), key=lambda pair: pair[1])


class BySun(_Pace):
    """Interval by sun altitude: geometric between points, constant beyond them."""

    kind: Annotated[Literal["sun"], Field(description="interval by sun altitude")]
    points: Annotated[
        tuple[tuple[SunAltitude, Seconds], ...],
        Field(min_length=1, max_length=100, description="pairs in order: sun altitude, degrees; interval, seconds"),
    ]

    @model_validator(mode="after")
    def _sense(self) -> Self:
        in_order(self.points, "sun altitude")
        return self

    def shortest(self) -> tuple[str, float]:
        return "points", min(interval for _, interval in self.points)


class ByLight(_Pace):
    """Interval by scene EV: geometric between points, constant beyond them."""

    kind: Annotated[Literal["light"], Field(description="interval by the light of the scene")]
    points: Annotated[
        tuple[tuple[SceneEv, Seconds], ...],
        Field(min_length=1, max_length=100, description="pairs in order: scene EV at ISO 100; interval, seconds"),
    ]

    @model_validator(mode="after")
    def _sense(self) -> Self:
        in_order(self.points, "scene EV")
        return self

    def shortest(self) -> tuple[str, float]:
        return "points", min(interval for _, interval in self.points)


class ByPulse(_Pace):
    """A frame for each pulse on the rig's trigger input, from another machine; no closer together than it may be."""

    kind: Annotated[Literal["pulse"], Field(description="a frame for each pulse on the rig's trigger input")]
    min_interval_s: Annotated[
        Seconds,
        Field(description="between two pulses that are shot, at least; the exposure leaves room for it, seconds"),
    ]

    @model_validator(mode="after")
    def _sense(self) -> Self:
        if self.stretch_to_s is not None:
            refuse("stretch_to_s", "who sends the pulses decides how far apart they are", "Remove it")
        return self

    def shortest(self) -> tuple[str, float]:
        return "min_interval_s", self.min_interval_s


Pace = Annotated[Steady | Timed | BySun | ByLight | ByPulse, Field(discriminator="kind")]
