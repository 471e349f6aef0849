"""What the checks look at; None everywhere is what is not known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pydantic import ConfigDict

from controller.decide.safe_interval import Needs
from controller.words.documents import Document, PlaceNow
from controller.words.settings import Finding, Level, Setting, SettingNow


@dataclass(frozen=True, slots=True)
class CameraFacts:
    """One camera. `trouble` says in words why it is not there, or why its settings could not be read."""

    id: str
    address: str
    model: str | None = None  # None: no camera answers there
    trouble: str | None = None
    settings: Mapping[Setting, SettingNow] = field(default_factory=dict)
    battery_percent: int | None = None
    free_bytes: int | None = None
    free_frames: int | None = None
    frame_bytes: float | None = None
    needs: Needs | None = None  # from one release to the next, as far as the body was seen
    clock_off_s: float | None = None  # the body's clock is ahead by so much
    rig_synchronised: bool | None = None  # whether the rig's is one to set it by

    @property
    def there(self) -> bool:
        return self.model is not None

    def value(self, setting: Setting) -> str:
        """The body's own text, folded for comparing; empty where there is none."""
        now = self.settings.get(setting)
        return "" if now is None else now.value.strip().casefold()


@dataclass(frozen=True, slots=True)
class RigFacts:
    """The machine that the cameras hang on."""

    holders: tuple[str, ...] | None = None  # programs of a desktop that take cameras for themselves
    denied: tuple[str, ...] | None = None  # nodes of cameras on USB that may not be opened
    is_pi: bool = False
    throttled: int | None = None  # bits of `vcgencmd get_throttled`
    temperature_c: float | None = None
    free_bytes: int | None = None
    synchronised: bool | None = None  # its clock, by the network or a receiver
    battery_off_s: float | None = None  # its battery clock is ahead of it by so much; None where it has none
    cameras: tuple[CameraFacts, ...] = ()
    wired: bool = False  # something hangs on its pins
    motion_s: float | None = None  # from the end of an exposure until its motion rig stands still
    has_trigger: bool = False
    contacts_of: str | None = None  # the camera whose release contacts are wired
    wiring_refusal: str | None = None  # why its document cannot be used
    wiring_troubles: tuple[str, ...] = ()  # of the service that runs
    places: tuple[PlaceNow, ...] = ()  # of the service that runs too
    places_trouble: str | None = None  # why places.toml cannot be used


class PlanFacts(Document):
    """What a plan asks of camera and rig; sums are null where it has no end."""

    model_config = ConfigDict(frozen=True)

    name: str
    frames: int | None = None  # test frames counted
    longest_exposure_s: float
    shortest_exposure_s: float
    shortest_interval_s: float
    longest_interval_s: float
    least_gap_s: float  # the shortest time between two exposures
    least_step_s: float  # the shortest time between two releases
    on_pulses: bool = False
    cameras: tuple[str, ...] = ()  # those that the plan names
    frame_bytes: float
    frame_bytes_assumed: bool = False
    card_bytes: float | None = None
    rig_bytes: float | None = None
    frees: bool = False  # it lets files go once they are copied


def fine(check: str, what: str, camera: str | None = None) -> Finding:
    """A pass."""
    return Finding(check=check, level=Level.PASS, what=what, camera=camera)


def doubt(
    check: str, what: str, remedy: str, camera: str | None = None, fix: dict[Setting, str] | None = None
) -> Finding:
    """A warning."""
    return Finding(check=check, level=Level.WARN, what=what, remedy=remedy, camera=camera, fix=fix)


def wrong(
    check: str, what: str, remedy: str, camera: str | None = None, fix: dict[Setting, str] | None = None
) -> Finding:
    """Something to mend first."""
    return Finding(check=check, level=Level.FAIL, what=what, remedy=remedy, camera=camera, fix=fix)
