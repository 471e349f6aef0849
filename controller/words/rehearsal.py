"""What a rehearsal comes to, as command, REST and charts share it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from controller.words.documents import Document
from controller.words.times import Utc

BindKind = Literal["interval", "shutter", "aperture", "iso", "light", "change", "card", "sleep"]


class Bind(Document):
    """A stretch of time over which something stands in the way of the wanted exposure or interval."""

    kind: BindKind
    from_utc: Utc
    until_utc: Utc
    from_sun_altitude_deg: float
    until_sun_altitude_deg: float
    frames: int = Field(description="slots of the stretch that it concerns")
    worst_ev: float | None = Field(
        None, description="light: by how much pictures come out too bright (positive) or too dark at most, EV"
    )
    text: str = Field(description="what it is, in words")
    remedy: str


class RehearsalSummary(Document):
    """A whole rehearsal. Ranges are lowest and highest true values of the frames that were released."""

    plan_name: str
    start_utc: Utc | None = Field(None, description="when the first slot was due")
    stop_utc: Utc | None = Field(None, description="when the last interval ended")
    windows: int
    frames: int = Field(description="released and not lost")
    missed: dict[str, int] = Field(default_factory=dict, description="missed slots by their cause")
    missed_spans: dict[str, tuple[Utc, Utc]] = Field(
        default_factory=dict, description="when the first and the last slot of each cause were due"
    )
    lost: int = 0
    clip_s: float
    interval_s: tuple[float, float] | None = None
    shutter_s: tuple[float, float] | None = None
    aperture: tuple[float, float] | None = None
    iso: tuple[float, float] | None = None
    bytes: int = Field(description="on the card")
    within_third: float | None = Field(
        None, description="share of frames whose exposure is within 1/3 EV of what the light rule asked for"
    )
    furthest_ev: float | None = Field(
        None, description="of the frame furthest from what was asked for: positive is too bright, EV"
    )
    furthest_utc: Utc | None = Field(None, description="when that frame was due")
    scene_ev: tuple[float, float] | None = Field(
        None, description="how far the scene was below and above mid grey at the exposures set, EV"
    )
    binds: list[Bind] = Field(default_factory=list)
