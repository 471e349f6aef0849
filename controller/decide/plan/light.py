"""The table [light]: the exposure."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Annotated, Literal, Self

from pydantic import Field, Strict, model_validator

from controller.decide.exposure import Quantity
from controller.decide.meter import Region
from controller.decide.plan.tables import (
    DISTINCT,
    AgainstGrey,
    Aperture,
    ApertureRange,
    Fraction,
    Iso,
    IsoRange,
    Number,
    Offset,
    ShutterRange,
    ShutterTime,
    SunAltitude,
    Table,
)
from controller.decide.plan_errors import in_order, refuse
from controller.words.stops import meant_shutter


class MeterRegion(Table):
    """How much a part of the picture counts in metering."""

    rect: Annotated[
        tuple[Fraction, Fraction, Fraction, Fraction],
        Field(description="left, top, right, bottom, as fractions of the picture's width and height"),
    ]
    weight: Annotated[
        Number, Field(ge=0, le=100, description="how much it counts against the rest, which counts 1")
    ] = 0.0

    @model_validator(mode="after")
    def _sense(self) -> Self:
        left, top, right, bottom = self.rect
        if not (left < right and top < bottom):
            refuse("rect", f"{list(self.rect)} holds nothing", "Write [left, top, right, bottom], as fractions")
        return self


class _Light(Table):
    regions: Annotated[
        tuple[MeterRegion, ...],
        Field(
            max_length=32,
            description="parts of the picture that count more or less; the last that covers a place is right",
        ),
    ] = ()
    learn_response: Annotated[
        bool, Strict(), Field(description="take a short bracket before the first slot and learn the body's tone curve")
    ] = False
    bracket_ev: (
        Annotated[
            tuple[Offset, ...],
            Field(
                min_length=2,
                max_length=9,
                description="frames of an interval: how much brighter each is, EV",
                json_schema_extra=DISTINCT,
            ),
        ]
        | None
    ) = None
    bulb: Annotated[bool, Strict(), Field(description="times beyond the camera's longest, held open by the rig")] = (
        False
    )

    @model_validator(mode="after")
    def _distinct(self) -> Self:
        if len(set(self.offsets)) < len(self.offsets):
            refuse("bracket_ev", "has the same exposure twice", "Name each offset once, such as [-2, 0, 2]")
        return self

    @property
    def offsets(self) -> tuple[float, ...]:
        """How much brighter each frame of an interval is to be, EV; without a bracket a single 0."""
        return self.bracket_ev or (0.0,)

    @model_validator(mode="after")
    def _something_to_meter(self) -> Self:
        if self.regions and not any(weight > 0 for weight in self._weights()):
            refuse("regions", "leave nothing of the picture to meter", "Give some part of it a weight")
        return self

    def _weights(self) -> Iterator[float]:
        """The weight in each cell between the edges of all regions; the last region that covers it is right."""
        across, down = ({0.0, 1.0, *(r.rect[i] for r in self.regions for i in edges)} for edges in ((0, 2), (1, 3)))
        for (left, right), (top, bottom) in itertools.product(*(itertools.pairwise(sorted(e)) for e in (across, down))):
            x, y = (left + right) / 2, (top + bottom) / 2
            inside = [r.weight for r in self.regions if r.rect[0] < x < r.rect[2] and r.rect[1] < y < r.rect[3]]
            yield inside[-1] if inside else 1.0

    def metered_regions(self) -> tuple[Region, ...]:
        """The regions as metering takes them."""
        return tuple(Region(*region.rect, region.weight) for region in self.regions)


class FixedLight(_Light):
    """One exposure throughout."""

    kind: Annotated[Literal["fixed"], Field(description="one exposure throughout")]
    shutter_s: Annotated[ShutterTime, Field(description="exposure time, seconds")]
    aperture: Annotated[Aperture, Field(description="f-number")]
    iso: Annotated[Iso, Field(description="ISO speed")]

    def together_s(self, shutter_s: float) -> float:
        """Seconds of the exposures of one interval together: a bracket moves the shutter."""
        return math.fsum(shutter_s * math.exp2(offset) for offset in self.offsets)

    def shortest_s(self) -> float:
        """Seconds of the exposures of one interval together, at their shortest, true."""
        return self.together_s(meant_shutter(self.shutter_s))


class FollowLight(_Light):
    """The exposure follows the scene, inside limits."""

    kind: Annotated[Literal["follow"], Field(description="the exposure follows the scene")]
    shutter_s: Annotated[ShutterRange, Field(description="shortest and longest exposure time, seconds")] = (
        0.000125,
        30.0,
    )
    aperture: Annotated[ApertureRange, Field(description="f-number: widest and narrowest, or one")]
    iso: Annotated[IsoRange, Field(description="ISO speed: lowest and highest, or one")] = (100.0, 3200.0)
    order: (
        Annotated[
            tuple[Quantity, ...],
            Field(
                min_length=1,
                max_length=3,
                description="what gives way first as it gets dark",
                json_schema_extra=DISTINCT,
            ),
        ]
        | None
    ) = None
    bias_ev: Annotated[Number, Field(ge=-10, le=10, description="EV; positive is brighter")] = 0.0
    brightness: (
        Annotated[
            tuple[tuple[SunAltitude, AgainstGrey], ...],
            Field(
                min_length=1,
                max_length=100,
                description="pairs in order: sun altitude, degrees; brightness against mid grey, EV",
            ),
        ]
        | None
    ) = None
    max_ev_per_min: Annotated[Number, Field(ge=0.01, le=60, description="fastest change of exposure, EV a minute")] = (
        1.5
    )
    test_frame: Annotated[
        bool, Strict(), Field(description="take test frames before a window, so that its first frame is exposed well")
    ] = True

    @model_validator(mode="after")
    def _sense(self) -> Self:
        if self.brightness is not None:
            in_order(self.brightness, "sun altitude", "brightness")
        for name in ("shutter_s", "aperture", "iso"):
            low, high = getattr(self, name)
            if low > high:
                refuse(name, f"the lower limit {low:g} is above the upper one {high:g}", "Swap them")
        if self.order is not None:
            if len(set(self.order)) < len(self.order):
                refuse("order", "names one of them twice", "Name each once")
            for quantity in ("shutter", "aperture", "iso"):
                low, high = getattr(self, "shutter_s" if quantity == "shutter" else quantity)
                if low < high and quantity not in self.order:
                    refuse("order", f"{quantity} has a range but no place in the order", f'Add "{quantity}"')
        return self

    @property
    def giving_way(self) -> tuple[Quantity, ...]:
        """What gives way first as it gets dark."""
        return self.order or ("shutter", "aperture", "iso")

    def together_s(self, shutter_s: float) -> float:
        """Seconds of the exposures of one interval together, where each is as short as allowed."""
        return shutter_s * len(self.offsets)

    def shortest_s(self) -> float:
        """Seconds of the exposures of one interval together, at their shortest, true."""
        return self.together_s(meant_shutter(self.shutter_s[0]))


LightRule = Annotated[FixedLight | FollowLight, Field(discriminator="kind")]
