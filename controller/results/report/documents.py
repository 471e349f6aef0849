"""The report as a document: what JSON, text and page tell, from plan to files."""

from __future__ import annotations

from pydantic import Field

from controller.results.cameras import Share
from controller.results.flicker import Flicker
from controller.results.report.integrity import Integrity
from controller.words.documents import Document, FrameCounts, Note, ShootState
from controller.words.times import Utc


class Run(Document):
    """Slots that follow each other."""

    first_seq: int
    last_seq: int
    first_utc: Utc
    last_utc: Utc
    slots: int


class Gone(Document):
    """All slots that are missing for one cause."""

    cause: str
    slots: int
    times: int = Field(description="runs of such slots in all")
    runs: list[Run] = Field(description="the first 200 of them, in order")
    last: Run


class Bar(Document):
    """Frames whose lateness is from one bound up to another."""

    from_ms: float | None = Field(description="none: whatever is below")
    to_ms: float
    frames: int


class Lateness(Document):
    """Release against due time, of all frames released. Percentiles by linear interpolation between ranks."""

    frames: int
    p50_ms: float
    p90_ms: float
    p99_ms: float
    p999_ms: float
    max_ms: float
    max_seq: int
    within: float = Field(
        description="percentiles are off by this share of themselves at most: 0, but where there are very many values"
    )
    bars: list[Bar] = Field(description="how many frames were how late; bounds are powers of two")


class SunRow(Document):
    """Frames while the sun was between two altitudes; medians, of an even number of settings the lower one."""

    from_deg: float
    to_deg: float
    rising: bool
    frames: int
    interval_s: float
    shutter_s: float | None = None
    aperture: float | None = None
    iso: float | None = None
    exposure_ev: float | None = None
    scene_ev: float | None = None


class ExposureSteps(Document):
    """Changes of exposure from one frame to the next, or from bracket to bracket."""

    changes: int
    largest_ev: float = 0.0
    largest_seq: int | None = None
    sizes: dict[str, int] = Field(default_factory=dict, description="size in EV, two decimals -> how often")


class Steadied(Document):
    """What steadying makes of the log's brightness, without any picture being read."""

    after: Flicker
    every: int = Field(description="1: of all frames; else of every so manyth run of 1000")


class PlaceShare(Document):
    """A second place, and what of this shoot has a verified copy there."""

    place: str
    frames: int
    bytes: int


class Stored(Document):
    """Where the frames are."""

    rig_frames: int = Field(description="frames whose files were fetched and are on the rig")
    rig_files: int = Field(description="of those; a RAW+JPEG pair is two")
    rig_bytes: int
    rig_freed: int = Field(description="frames whose files were deleted from the rig by the plan's rule")
    card_only: int = Field(description="frames that the camera has written and that were not fetched")
    card_frames: int = Field(description="frames that are on the card, as far as the log knows")
    card_bytes: int = Field(description="of those whose size is known")
    card_unsized: int = Field(description="frames on the card whose size is not known, since they were not fetched")
    previews: int
    bytes_per_frame: int | None = None
    copies: list[PlaceShare] = Field(default_factory=list, description="second places with verified copies")


class Stretch(Document):
    """Slots without a long pause between them, such as one window of a plan that has many."""

    first_utc: Utc
    last_utc: Utc
    slots: int
    frames: int
    missed: int
    lost: int


class ClipMade(Document):
    """A film that lies in the shoot's directory, with what was told when it was made."""

    path: str = Field(description="relative to the rig's directory")
    name: str
    bytes: int
    made_utc: Utc
    url: str | None = Field(None, description="where the rig serves it")
    frames: int | None = None
    duration_s: float | None = None
    fps: float | None = None
    width: int | None = None
    height: int | None = None
    steadied: bool | None = None
    before: Flicker | None = Field(None, description="of the pictures as they were")
    after: Flicker | None = Field(None, description="of the frames as they went to the encoder")


class Report(Document):
    """One shoot, from plan to files."""

    shoot: str
    plan_name: str
    camera: str = Field(description="whose frames all that follows is of; empty where there is none")
    cameras: list[Share] = Field(description="where several cameras shot: what each got")
    state: ShootState
    cause: str | None
    timezone: str | None
    planned: dict[str, str] = Field(description="the plan in a few words: when, pace, light, fetch")
    started_utc: Utc | None
    ended_utc: Utc | None
    first_utc: Utc | None = Field(description="the first slot of the log")
    last_utc: Utc | None
    slots: int = Field(description="slots that came due")
    frames_planned: int | None = Field(description="the plan's own count, where it has one")
    unshot_s: float | None = Field(description="time of the window that was left when the shoot ended")
    frames: int = Field(description="released, and not known to be lost")
    counts: FrameCounts = Field(description="slots by state, of all cameras")
    stretches: list[Stretch] = Field(description="where there was a long pause: what each part got; the newest 400")
    fps: float
    clip_s: float
    clip_frames: str = Field(description="for people: which frames of brackets clip, exposure and brightness go by")
    missed: list[Gone]
    lost: list[Gone]
    lateness: Lateness | None
    over_sun: list[SunRow]
    exposure_steps: ExposureSteps
    brightness: Flicker | None = Field(description="of the frames as exposed and metered, before any steadying")
    steadied: Steadied | None
    clips: list[ClipMade]
    stored: Stored
    integrity: Integrity | None = Field(description="as the files were last read; none: never since they were fetched")
    notes: list[Note] = Field(description="the newest 200")
