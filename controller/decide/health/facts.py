"""What the health checks look at, and what they say. None everywhere is what is not known."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from controller.decide.health.pictures import Look
from controller.words.documents import PlaceNow, RigClock


@dataclass(frozen=True, slots=True)
class CameraSeen:
    """One camera. `pictures` are its last ones, the newest last, and only where a new one has come since the last time.

    `missed` and `slots` count what was due lately while the rig was running; `usual` is the sharpness that its pictures
    have in such light.
    """

    id: str
    connected: bool
    shooting: bool  # a shoot that has not ended uses it
    trouble: str | None = None
    battery_percent: int | None = None
    room_frames: int | None = None
    wanted_frames: int | None = None  # that the present window still takes
    card_hours_left: float | None = None  # until the card is full at the present pace
    missed: int = 0
    slots: int = 0
    cause: str | None = None  # the most frequent of those missed
    unread: int | None = None  # frames since the last picture that could be read; None where none is wanted
    blind: str | None = None  # why the last one could not
    pictures: tuple[Look, ...] = ()
    usual: float | None = None


@dataclass(frozen=True, slots=True)
class Readings:
    """A rig at one moment."""

    free_bytes: int | None = None
    hours_left: float | None = None  # until the rig's disk is full at the present pace
    is_pi: bool = False
    throttled: int | None = None  # bits of decide/pi.py
    dipped: bool = False  # under-voltage came and went between this look and the last
    temperature_c: float | None = None
    clock: RigClock | None = None
    failed: Mapping[str, str] = field(default_factory=dict)  # shoots that have failed, with the cause
    unlogged: str | None = None  # why the frame log cannot be written
    damaged: str | None = None  # what is to be said of a log that was found damaged
    made_anew: str | None = None  # the same of one that was made anew lately
    wiring: tuple[str, ...] | None = None  # what does not work of it; None where nothing is wired
    cameras: tuple[CameraSeen, ...] = ()
    places: tuple[PlaceNow, ...] = ()
    places_trouble: str | None = None  # why places.toml cannot be used
    film_trouble: str | None = None  # why the last film that was tried was not made
    film_remedy: str = ""


@dataclass(frozen=True, slots=True)
class Sign:
    """What one check says now: `raise` beyond its one line, `clear` beyond the other, `stay` between them.

    A check that cannot tell gives no sign, and what stands goes on standing. `raise_s` and `clear_s` are the wall
    seconds for which it must have been said without a break.
    """

    check: str
    says: Literal["raise", "clear", "stay"]
    what: str  # as it is now: the trouble, or that it is over
    remedy: str = ""
    camera: str | None = None
    raise_s: float = 0.0
    clear_s: float = 0.0
    urgent: bool = False

    @property
    def key(self) -> tuple[str, str | None]:
        return self.check, self.camera


def of_shoots(now: Readings, check: str, sign_of: Callable[[CameraSeen], Sign | None]) -> list[Sign]:
    """What a check of shoots says: of each camera that one has, where that can be told; of the others it is over."""

    def sign(camera: CameraSeen) -> Sign | None:
        return sign_of(camera) if camera.shooting else Sign(check, "clear", "The shoot is over", camera=camera.id)

    return [told for camera in now.cameras if (told := sign(camera)) is not None]


def says(bad: bool, good: bool) -> Literal["raise", "clear", "stay"]:
    """Beyond one line, beyond the other, or between them."""
    return "raise" if bad else "clear" if good else "stay"
