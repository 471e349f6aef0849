"""What daemon and camera process say to each other.

Plain dataclasses, since the camera process must stay small. On the wire each is one JSON header and an optional
binary payload (see `wire.py`). Every `*_mono` here is CLOCK_MONOTONIC of the machine, which both processes share;
durations are wall seconds unless said otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass, field

STILL_EXPOSING = "the camera was still exposing the frame before"
TOO_SLOW = "the camera answered too slowly"
BUSY_WRITING = "the camera was still writing"
TOOK_NONE = "the camera answered the release and took no frame, being busy or set so that it cannot"
STORE_FULL = "the card was full"
"""Causes of a missed slot."""

# ---- daemon to camera process


@dataclass(frozen=True, slots=True)
class Release:
    """Set the exposure, release at `due_mono`, follow the frame to the card, and fetch what `fetch` asks for.

    Past `latest_mono` the slot is given up and reported as missed. The worker reports, in order: Settled, Released,
    Written, Preview, Fetched; or Missed, or Trouble at any point. Settled comes again where the exposure was changed
    on the body before the release; Written again where the second file of a pair comes late. The same `seq` ordered
    again before its release takes the place of the first order.
    """

    seq: int
    due_mono: float
    latest_mono: float
    shutter_s: float  # true seconds of exposure in the camera's own time
    aperture: float  # true f-number; 0 leaves the aperture alone
    iso: float
    exposure_s: float  # how long the exposure lasts on the wall clock (differs from shutter_s in the demo)
    fetch: str  # all | preview | none
    directory: str  # where fetched files go
    stem: str  # file name without extension for fetched files


@dataclass(frozen=True, slots=True)
class Cancel:
    """Do not release slot `seq` if it has not been released; answered by Missed in that case."""

    seq: int


@dataclass(frozen=True, slots=True)
class Fetch:
    """Fetch a file of the card into directory/stem.EXT, in gaps only."""

    seq: int
    camera_file: str
    directory: str
    stem: str


@dataclass(frozen=True, slots=True)
class PauseFetching:
    """Stop (or go on) fetching: the rig's disk is full. Releases go on."""

    paused: bool


@dataclass(frozen=True, slots=True)
class ListFiles:
    """List the card's files; answered by Files.

    `fresh`: as a new session sees them, which is opened for it once there is time. Of a file of which the body has not
    told no other session knows.
    """

    request: int
    fresh: bool = False


@dataclass(frozen=True, slots=True)
class AskStatus:
    """Read battery and storage in the next gap; answered by Status."""

    request: int


@dataclass(frozen=True, slots=True)
class AskSettings:
    """Read these settings of the body (`words.settings.Setting`), all where none is named; answered by Shown."""

    request: int
    names: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class ChangeSetting:
    """Set one of the body's controls to one of its own texts and read it back; answered by Shown.

    `ahead_s`: of its clock, by how much the rig's is ahead of the machine's.
    """

    request: int
    setting: str
    value: str
    ahead_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Erase:
    """Delete a file of the card if its SHA-256 is this one, read on the card itself; answered by Erased."""

    request: int
    path: str
    sha256: str


@dataclass(frozen=True, slots=True)
class LookThrough:
    """Live view with so many pictures a second at most, 0 for none. A release ends it."""

    per_s: float


@dataclass(frozen=True, slots=True)
class Again:
    """Try to open the camera, of which a fatal or an opening's Trouble told that it is not there.

    `reset`: reset its USB port first. `shutter_open`: it was lost while its shutter was held open. Commands that came
    before this one are of the session that is gone, and are let fall.
    """

    reset: bool = False
    shutter_open: bool = False


@dataclass(frozen=True, slots=True)
class Close:
    """End the session and the process."""


# ---- camera process to daemon


@dataclass(frozen=True, slots=True)
class Hello:
    """The first word of a camera process: what it speaks, and how the kernel schedules it."""

    version: int
    pid: int
    priority: str


@dataclass(frozen=True, slots=True)
class Opened:
    """The session stands. Choices are true values, without duplicates, ascending."""

    model: str
    serial: str
    shutter_s: list[float]
    aperture: list[float]
    iso: list[float]
    shutter_now_s: float | None
    aperture_now: float | None
    iso_now: float | None
    battery_percent: int | None
    free_bytes: int | None
    free_frames: int | None
    style: str = ""  # the picture style that its JPEGs carry, in the body's own word; empty where it does not tell
    bulb: bool = False  # whether the shutter can be held open for a time that is on no dial
    clock_s: float | None = None  # the body's clock, as its files' times count it, at `clock_mono`
    clock_mono: float = 0.0

    @property
    def key(self) -> tuple[str, str]:
        """What tells this body from others."""
        return self.model, self.serial


@dataclass(frozen=True, slots=True)
class Settled:
    """The exposure for slot `seq` is set and read back; true values.

    Where the body has no control for one of them, or its own word for it cannot be read, the order's value stands.
    """

    seq: int
    shutter_s: float
    aperture: float | None
    iso: float
    took_s: float


@dataclass(frozen=True, slots=True)
class Released:
    """The shutter was released: `at_mono` is when the call went out, `call_s` how long it took.

    `late_s` is by how much the call went out after the frame's due time; `ready`: the body answers it once it can take
    the next one.
    """

    seq: int
    at_mono: float
    call_s: float
    late_s: float = 0.0
    ready: bool = False


@dataclass(frozen=True, slots=True)
class Missed:
    """Slot `seq` passed without a release."""

    seq: int
    cause: str


@dataclass(frozen=True, slots=True)
class Written:
    """The camera says that it has the frame: paths on the card, the JPEG first where there is a pair."""

    seq: int
    camera_files: list[str]
    at_mono: float


@dataclass(frozen=True, slots=True)
class Preview:
    """The frame's small picture, as payload; `at_mono` is when it had come, 0 where that is not told."""

    seq: int
    jpeg: bytes = field(repr=False)
    at_mono: float = 0.0


@dataclass(frozen=True, slots=True)
class Fetched:
    """A whole, verified copy of a card file is on the rig's disk and synced, since `at_mono`; 0 is not told."""

    seq: int
    camera_file: str
    path: str
    size: int
    sha256: str
    at_mono: float = 0.0


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something went wrong; `seq` where it concerns one slot, `fatal` where the session is over."""

    code: str
    what: str
    remedy: str
    seq: int | None = None
    fatal: bool = False


@dataclass(frozen=True, slots=True)
class CardFile:
    """One file on the card. `mtime_utc` is by the camera's clock, resolution 1 s."""

    path: str
    size: int
    mtime_utc: float | None


@dataclass(frozen=True, slots=True)
class Files:
    request: int
    files: list[CardFile]


@dataclass(frozen=True, slots=True)
class Status:
    request: int
    battery_percent: int | None
    free_bytes: int | None
    free_frames: int | None


@dataclass(frozen=True, slots=True)
class SettingShown:
    """A setting as the body shows it: libgphoto2's name of the control, the body's own texts."""

    setting: str
    control: str
    value: str
    choices: list[str]
    writable: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """Settings that the body has, those that were asked for; `refusal` says why a change did not come true."""

    request: int
    settings: list[SettingShown]
    refusal: str = ""


@dataclass(frozen=True, slots=True)
class Erased:
    """It is deleted; or `refusal` says why it is not, `gone` that no such file was there."""

    request: int
    refusal: str = ""
    gone: bool = False


@dataclass(frozen=True, slots=True)
class LiveImage:
    """A picture of live view, as payload; without bytes where the body gives none, and `why`."""

    jpeg: bytes = field(repr=False)
    why: str = ""


@dataclass(frozen=True, slots=True)
class Alive:
    """The worker's main loop turns: sent about once a second; the link takes it up and does not pass it on.

    `quiet_s`: a call begins that may take so long, and nothing is heard meanwhile.
    """

    at_mono: float
    quiet_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Tried:
    """A step on the way back to a camera that was lost, or was busy: made so many times in a row from `began_mono` on.

    `took_s` is how long until it `worked` or was given up, `lost_s` the time since the loss.
    """

    step: str
    times: int
    began_mono: float
    took_s: float
    lost_s: float
    worked: bool
    what: str


# ---- made by the daemon's side of the link


@dataclass(frozen=True, slots=True)
class Gone:
    """The camera process ended, was killed or lost its camera; slots in hand are `seqs`, releases unknown."""

    code: str
    what: str
    remedy: str
    seqs: list[int]


Question = ListFiles | AskStatus | AskSettings | ChangeSetting | Erase
Command = Release | Cancel | Fetch | PauseFetching | Question | LookThrough | Again | Close
Answer = Files | Status | Shown | Erased
OfFrame = Settled | Released | Missed | Written | Preview | Fetched
Report = Opened | OfFrame | Trouble | Answer | LiveImage | Alive | Gone | Tried
