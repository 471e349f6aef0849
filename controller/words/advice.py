"""What a plan comes to, before anything is shot: one document, for the command line and for REST."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

from pydantic import Field

from controller.words.documents import Document, Exposure
from controller.words.times import Utc


class Costs(StrEnum):
    """What a warning would cost if nothing were done, the worst first."""

    FRAMES = "frames"  # frames are lost
    NIGHT = "night"  # the night is spoiled: what was shot is of little use
    QUALITY = "quality"
    COMFORT = "comfort"  # a surprise, or work afterwards


class Warned(Document):
    """Something that may go wrong, and the remedy."""

    costs: Costs
    what: str
    remedy: str
    utc: Utc | None = Field(None, description="from when on, where that has a moment")
    worst_ev: float | None = Field(None, description="how far off the light is at worst, EV, where it is about that")


class Caution(Document):
    """A danger to people or gear for which the plan gives cause."""

    about: str = Field(description="sun, frost, night, height, privacy or mains")
    text: str


class Mark(Document):
    """The plan at one moment: a sun event, or an end of the window."""

    name: str
    utc: Utc
    local: str
    sun_altitude_deg: float
    interval_s: float
    speed_up: float = Field(description="how many times faster than the world the clip runs")
    exposure: Exposure
    frame: int = Field(description="frames before it; at the end all of them")


class LightPhase(Document):
    """A stretch of the window in one kind of light; pairs are at its beginning and at its end."""

    light: str
    from_utc: Utc
    from_local: str
    to_utc: Utc
    to_local: str
    frames: int
    clip_s: float
    interval_s: tuple[float, float]
    speed_up: tuple[float, float]


class InPicture(Document):
    """Sun or moon above the horizon and in the picture."""

    body: str
    enters_utc: Utc
    enters_local: str
    leaves_utc: Utc
    leaves_local: str
    longest_exposure_s: float = Field(description="of those that are planned meanwhile")


class ClockChange(Document):
    """The clocks at the site are put forward (`by_s` above 0) or back within a window."""

    utc: Utc
    before: str = Field(description="local time just before, with its offset from UTC")
    after: str
    by_s: float


class WindowSummary(Document):
    """One window; `frames` and `clip_s` are null where it lasts until it is stopped.

    Shooting begins at `start_utc`: the window's start, or the moment asked about where it is open already. Marks, light
    phases and pictures are worked out for four days of a window at most, and of a plan with many windows for the first
    three, those nearest to the solstices and the last.
    """

    start_utc: Utc
    start_local: str
    end_utc: Utc | None
    end_local: str | None
    frames: int | None
    clip_s: float | None
    clock_change: ClockChange | None = None
    marks: list[Mark] = Field(default_factory=list)
    phases: list[LightPhase] = Field(default_factory=list)
    in_picture: list[InPicture] = Field(default_factory=list)


class Skipped(Document):
    """A day that the plan names and that has no window."""

    day: str
    cause: str


class StorageNeed(Document):
    """Bytes on card and rig. Sums are null where the plan has no end; `full` moments where room suffices."""

    frame_bytes: float
    preview_bytes: float
    basis: str = Field(description="where frame_bytes is from: a body, an option, or an assumption")
    assumed: bool = Field(description="frame_bytes is an assumption")
    fetch: str
    test_frames: int = Field(0, description="before windows, at most; on the card only, and counted in card_bytes")
    card_bytes: float | None
    rig_bytes: float | None
    card_room_bytes: float | None = Field(None, description="room on the card, where known")
    rig_room_bytes: float | None = Field(None, description="room on the rig's disk, where known")
    card_full_utc: Utc | None = Field(None, description="what `deleted` takes from it is not counted")
    card_kept_bytes: float | None = Field(
        None, description="of card_bytes, what stays at the least; null where nothing is deleted from the card"
    )
    card_full_at_last_utc: Utc | None = Field(
        None, description="when the card is full even though all goes that may; null where never, or as card_full_utc"
    )
    rig_full_utc: Utc | None = None
    deleted: list[str] = Field([], description="what will be deleted, from where, and after what; empty: nothing")


class PowerNeed(Document):
    """A battery against the plan, waiting included."""

    battery_wh: float
    draw_w: float
    temperature_c: float | None
    share: float = Field(description="of the battery's capacity that the temperature leaves")
    usable_wh: float
    lasts_s: float
    from_utc: Utc = Field(description="the moment from which the rig draws")
    needed_wh: float | None = Field(description="until the end of the last window; null without an end")
    empty_utc: Utc | None = Field(description="null where that is years ahead")
    earliest_on_utc: Utc | None = Field(
        description="switched on no earlier than this, it lasts until the end; null without an end, or for years"
    )


class Stars(Document):
    """How far stars trail in the longest exposure in the dark, and what three rules allow."""

    exposure_s: float
    aperture: float = Field(description="of that exposure")
    iso: float
    declination_deg: float = Field(description="of the fastest stars in the view; 0 where no view is given")
    trail_px: float | None
    one_pixel_s: float | None = Field(description="after which a star has moved by a pixel; null at a pole")
    rule_500_s: float
    npf_s: float | None


class FieldOfView(Document):
    """Angles of view, degrees."""

    horizontal_deg: float
    vertical_deg: float
    diagonal_deg: float


class Answer(Document):
    """The answer to a reverse question. The summary around it is that of the plan so changed."""

    asked: str
    text: str
    pace: dict[str, Any] | None = Field(None, description="the table [pace] that comes to it")
    interval_s: tuple[float, float] | None = Field(None, description="its shortest and longest interval")
    frames: int | None = None
    clip_s: float | None = None
    stop_utc: Utc | None = None
    stop_local: str | None = None


class PlanSummary(Document):
    """A whole plan. Sums are null if any window is without an end."""

    name: str
    plan: dict[str, Any] = Field(description="with its defaults filled in")
    timezone: str
    elsewhere: str | None = Field(
        None, description="where the day asked for has no window: why, and on which day the first one told of is"
    )
    windows: list[WindowSummary]
    skipped: list[Skipped]
    frames: int | None
    fps: float
    clip_s: float | None
    storage: StorageNeed
    power: PowerNeed | None
    stars: Stars | None
    field: FieldOfView | None
    warnings: list[Warned] = Field(description="by what they would cost, the worst first")
    cautions: list[Caution]
    answer: Answer | None = None
