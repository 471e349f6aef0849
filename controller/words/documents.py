"""The documents that log, event stream, REST and report share: one schema each."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Any, Self

from pydantic import BaseModel, ConfigDict, Field

from controller.words.phrases import with_remedy
from controller.words.times import Utc


class ShootState(StrEnum):
    WAITING = "waiting"
    CHECKING = "checking"
    SHOOTING = "shooting"
    HELD = "held"
    RECOVERING = "recovering"
    DONE = "done"
    STOPPED = "stopped"
    FAILED = "failed"


ENDED = frozenset({ShootState.DONE, ShootState.STOPPED, ShootState.FAILED})


class FrameState(StrEnum):
    DUE = "due"  # intent: written before the release, never exported
    RELEASED = "released"
    WRITTEN = "written"
    FETCHED = "fetched"
    LOST = "lost"
    MISSED = "missed"  # a slot without a release


class Document(BaseModel):
    model_config = ConfigDict(extra="forbid")


class Frame(Document):
    """One slot of a shoot and all that is known of it. Exposure values are true, not nominal."""

    shoot: str
    seq: int = Field(description="number of the slot within the shoot, from 1")
    camera: str
    due_utc: Utc
    released_utc: Utc | None = None
    late_ms: float | None = None
    interval_s: float
    shutter_s: float | None = None
    aperture: float | None = None
    iso: float | None = None
    exposure_ev: float | None = Field(None, description="EV at ISO 100 of the settings")
    scene_ev: float | None = Field(None, description="EV at ISO 100 that would render the scene mid grey, as metered")
    target_ev: float | None = Field(
        None, description="EV at ISO 100 that the light rule asked for, before stops were rounded"
    )
    sun_altitude_deg: float | None = None
    sun_azimuth_deg: float | None = None
    moon_altitude_deg: float | None = None
    state: FrameState = FrameState.DUE
    camera_file: str | None = None
    local_file: str | None = Field(None, description="relative to the rig's directory")
    bytes: int | None = None
    sha256: str | None = None
    cause: str | None = None
    id: int | None = Field(None, description="number of the frame on this rig")
    gap_s: float | None = None
    clipped: float | None = Field(None, description="share of pixels at the top of the scale, 0…1")
    black: float | None = Field(None, description="share of pixels at the bottom of the scale, 0…1")
    companion_file: str | None = Field(None, description="the second file of a RAW+JPEG pair, on the card")
    preview: bool = Field(False, description="a small picture of the frame is on the rig")
    skew_ms: float | None = Field(
        None, description="release against that of the first camera in the same slot; none for the first, or alone"
    )
    companion_sha256: str | None = Field(None, description="of the fetched second file of a pair")
    copies: str | None = Field(None, description="second places that have a verified copy, by name")
    rig_freed_utc: Utc | None = Field(None, description="since when its files are no longer on the rig")
    card_freed_utc: Utc | None = Field(None, description="since when its files are no longer on the card")

    @property
    def at_utc(self) -> float:
        """POSIX seconds of its release; of a slot without one, of its due time."""
        return self.due_utc if self.released_utc is None else self.released_utc

    @classmethod
    def of_row(cls, row: Mapping[str, Any]) -> Self:
        """A row of the log, which has every field. The names of those that were given are one set for all frames: a set
        of its own would take more than half of a frame's memory."""
        frame = cls(**row)
        object.__setattr__(frame, "__pydantic_fields_set__", _ALL_OF_A_FRAME)
        return frame

    def but(self, fields: dict[str, Any]) -> Self:
        """A copy with other values, which are not checked: `model_copy`, which takes three times as long."""
        copy = self.__new__(type(self))
        put = object.__setattr__
        put(copy, "__dict__", self.__dict__ | fields)
        put(copy, "__pydantic_fields_set__", _ALL_OF_A_FRAME)
        put(copy, "__pydantic_extra__", None)
        put(copy, "__pydantic_private__", None)
        return copy


_ALL_OF_A_FRAME = set(Frame.model_fields)

EXPORT_COLUMNS: tuple[str, ...] = tuple(name for name in Frame.model_fields if name != "preview")


class FrameCounts(Document):
    """How many slots of a shoot stand in which state."""

    released: int = 0
    written: int = 0
    fetched: int = 0
    lost: int = 0
    missed: int = 0

    @property
    def done(self) -> int:
        """Frames whose shutter was released and that are not known to be lost."""
        return self.released + self.written + self.fetched


class FrameTrouble(StrEnum):
    """What is wrong with a slot; where the line is drawn stands in the log's schema, and in docs/frame-log.md."""

    MISSED = "missed"  # or lost: no frame came of it
    DOUBTFUL = "doubtful"  # released, and not as it was meant


class TroubleCounts(Document):
    """How many slots of a shoot are in which trouble."""

    missed: int = Field(0, description="missed or lost: no frame came of them")
    doubtful: int = Field(0, description="released, and not as they were meant")


CLIP_FPS = 25.0
"""Frames a second of a clip where the plan says nothing."""


class Shoot(Document):
    """One run of a plan on this rig."""

    id: str
    plan_name: str
    plan: dict[str, Any] = Field(description="the exact plan that runs, as a document")
    plan_sha256: str | None = Field(None, description="the plan's version: its hash, as in the plan's ETag")
    state: ShootState
    cause: str | None = Field(None, description="why it is in this state, where that needs saying")
    created_utc: Utc
    started_utc: Utc | None = None
    ended_utc: Utc | None = None
    start_utc: Utc | None = Field(None, description="start of the present or next window")
    stop_utc: Utc | None = Field(
        None, description="end of the present or next window; none: until stopped or counted out"
    )
    hold_s: float | None = Field(None, description="length of a hold that ends by itself, seconds")
    held_until_utc: Utc | None = Field(
        None, description="when it goes on by itself; null where it is not held, or until somebody resumes it"
    )
    adjust: dict[str, Any] = Field(
        default_factory=dict, description="changes made while shooting: pace and light in force"
    )
    counts: FrameCounts = Field(default_factory=FrameCounts)

    @property
    def fps(self) -> float:
        """Frames a second of the clip that the plan wants."""
        return float((self.plan.get("clip") or {}).get("fps") or CLIP_FPS)


class PlanVersion(Document):
    """A plan as it once was, or is."""

    sha256: str = Field(description="of the plan's JSON with sorted keys")
    kept_utc: Utc | None = Field(None, description="none: before versions were kept")


class Note(Document):
    """Something that happened to a shoot or to the rig, for the log: a camera lost, a worker restarted."""

    id: int | None = None
    utc: Utc
    shoot: str | None = None
    kind: str = Field(description="short stable word, such as camera-gone")
    text: str
    facts: dict[str, Any] = Field(default_factory=dict)


class CameraNow(Document):
    """A camera as the phone sees it."""

    id: str
    model: str
    address: str
    connected: bool
    trouble: str | None = None
    battery_percent: int | None = None
    battery_hours_left: float | None = Field(
        None, description="until 0 %, by its fall in this window; null until that is known, and where it does not fall"
    )
    card_free_bytes: int | None = None
    card_free_frames: int | None = None


class HeaterNow(Document):
    """The dew heater and its sensor."""

    on: bool | None = Field(description="as its relay was last switched; null where that failed")
    temperature_c: float | None = Field(None, description="null while the sensor is not heard")
    humidity_percent: float | None = Field(None, description="relative humidity over water")
    dew_point_c: float | None = None
    trouble: str | None = None


class Raised(Document):
    """A finding that stands."""

    check: str
    camera: str | None = Field(None, description="id of the camera that it is about; null for the rig itself")
    what: str
    remedy: str
    urgent: bool = Field(False, description="frames are being lost, or soon will be")
    since_utc: Utc

    @property
    def key(self) -> tuple[str, str | None]:
        """What tells it from others."""
        return self.check, self.camera

    @property
    def line(self) -> str:
        """As the page shows it."""
        return with_remedy(self.what, self.remedy)


class PostNow(Document):
    """The rig's messages to people."""

    waiting: int = Field(description="messages that were not sent yet")
    trouble: str | None = Field(None, description="what the last one met; null where everybody has it")
    last_utc: Utc | None = Field(None, description="when the last one went out, since the rig was started")


class PlaceNow(Document):
    """A second place, as the phone sees it."""

    name: str
    waiting: int = Field(description="frames that are still to be copied there")
    trouble: str | None = Field(None, description="why nothing is copied there now")
    remedy: str | None = None
    by_itself: bool = Field(False, description="it may well mend itself")
    retry_in_s: float | None = Field(None, description="until it is tried again by itself; wall seconds")
    copying: str | None = Field(None, description="the frame's file that is on its way")
    free_bytes: int | None = Field(None, description="null where the place does not tell")
    hours_left: float | None = Field(None, description="until it is full at the present pace")
    last_utc: Utc | None = Field(None, description="when a copy was last verified, since the rig was started")
    failures: int = Field(0, description="tries that failed, since the rig was started or copies were begun again")


class Storage(Document):
    """Room that is left, and how long it lasts at the present pace."""

    rig_free_bytes: int
    rig_hours_left: float | None = Field(
        None, description="by what frames were seen to take, small pictures alone by 50 kB each; null until known"
    )
    card_free_bytes: int | None = None
    card_hours_left: float | None = Field(None, description="the same")
    bytes_per_frame: int | None = Field(None, description="that the first camera's last frames took, all files of each")
    fetching: str = Field("on", description="on, off (the plan's wish) or paused (the rig's disk is full)")


class Exposure(Document):
    """A triple of true values and its EV at ISO 100; `label` is how a photographer would say it."""

    shutter_s: float
    aperture: float
    iso: float
    ev: float
    label: str


class Heading(Document):
    """Where exposure and interval are heading, by the expected sky."""

    utc: Utc = Field(description="the moment that it is told for: in 30 minutes, or the end of the window before that")
    interval_s: float
    exposure: Exposure


class ClockState(StrEnum):
    RIGHT = "right"
    UNSURE = "unsure"  # nothing has set it since the machine was started: it may be behind
    WRONG = "wrong"  # it cannot be what it says


class KeptBy(StrEnum):
    """What the rig has its time from."""

    NETWORK = "network"
    BATTERY = "battery clock"
    HAND = "hand"  # the machine's clock was set while the rig ran
    PHONE = "phone"
    CAMERA = "camera"


class RigClock(Document):
    """The rig's time, and what is known of it."""

    utc: Utc
    state: ClockState
    kept_by: KeptBy | None = Field(None, description="null where nothing tells")
    why: str | None = Field(None, description="why it is not right, in words")
    windows_wait: bool = Field(False, description="planned windows wait until it is right")


class Now(Document):
    """All that the phone's first screen shows, in one answer."""

    utc: Utc
    rate: float = Field(description="how many times faster than the wall's the rig's clock runs; 1 on a real rig")
    well: bool = Field(description="nothing needs attention")
    attention: list[str] = Field(default_factory=list, description="what needs attention, most urgent first")
    shoot: Shoot | None = None
    next_release_utc: Utc | None = None
    next_release_in_s: float | None = None
    start_in_s: float | None = None
    end_utc: Utc | None = None
    left_s: float | None = None
    frames_done: int = 0
    frames_left: int | None = None
    frames_missed: int = 0
    frames_lost: int = 0
    fps: float | None = None
    clip_s: float = 0.0
    clip_end_s: float | None = None
    interval_s: float | None = None
    exposure: Exposure | None = None
    gap_s: float | None = None
    heading: Heading | None = Field(None, description="null where none is shooting, or it is not known")
    scene_ev: float | None = None
    target_ev: float | None = None
    bias_ev: float = 0.0
    sun_altitude_deg: float | None = Field(
        None, description="where the shoot is, without one where the rig stands; null where no place is known"
    )
    sun_azimuth_deg: float | None = None
    moon_altitude_deg: float | None = None
    camera: CameraNow | None = None
    beside: list[CameraNow] = Field(default_factory=list, description="the shoot's cameras beside the first")
    storage: Storage | None = None
    findings: list[Raised] = Field(default_factory=list, description="what the rig's watch has found and that stands")
    messages: PostNow | None = Field(None, description="messages to people; null where nobody is to be told")
    places: list[PlaceNow] = Field(default_factory=list, description="second places that the rig's files are copied to")
    places_trouble: str | None = Field(None, description="why places.toml cannot be used")
    heater: HeaterNow | None = Field(None, description="null where the rig has none")
    clock: RigClock | None = None
    last_frame: Frame | None = None
    event_id: str | None = Field(None, description="id of the newest event, to resume the stream from")
