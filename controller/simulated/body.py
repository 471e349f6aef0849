"""The camera's body: settings, the shutter, the buffer behind it, and the thread that develops and writes frames."""

from __future__ import annotations

import math
import queue
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Protocol

from controller.simulated.card import STORAGE_ID, Card, Full
from controller.simulated.makers import GENERIC, Maker
from controller.simulated.properties import HELD_WHILE_EXPOSING, Program, Prop, specs
from controller.simulated.ptp import Event, Response, Value
from controller.simulated.record import Record
from controller.simulated.stops import APERTURE, BULB, ISO, SHUTTER_S
from controller.words.clock import ScaledClock

_MOST_EVENTS = 1000
_LABELLED = (Prop.EXPOSURE_TIME, Prop.F_NUMBER, Prop.EXPOSURE_INDEX, Prop.EXPOSURE_PROGRAM)
Send = Callable[[Event, Sequence[int]], None]


class Refused(Exception):
    """What was asked cannot be done: `code` is the PTP response."""

    def __init__(self, code: int) -> None:
        super().__init__(f"{code:04x}")
        self.code = code


@dataclass(frozen=True)
class Exposure:
    """One release: the settings as they are in truth, and the moment in both clocks."""

    number: int
    released_mono: float
    released_utc: float
    aperture: float
    iso: float
    white_balance: int
    raw: bool
    labels: dict[Prop, int]
    flaws: frozenset[str]
    shutter_s: float | None = None


@dataclass(frozen=True)
class Picture:
    """What an exposure became: complete files, the mean 8-bit code, and the mean as a fraction of saturation."""

    jpeg: bytes
    raw: bytes | None
    mean_code: float
    mean_linear: float


class Looks(Protocol):
    """What looks through the lens; `size` is width and height in pixels."""

    size: tuple[int, int]

    def take(self, exposure: Exposure, stamp: datetime) -> Picture:
        """The picture of an exposure whose `shutter_s` is known; `stamp` is the camera's own time of release."""
        ...

    def live(self, utc: float) -> bytes:
        """A small JPEG of what is before the lens now, at an exposure that suits it."""
        ...

    def metered_ev(self, utc: float) -> float:
        """What the camera's own meter says, EV at ISO 100."""
        ...


@dataclass(frozen=True)
class Pace:
    """Seconds in the camera's own time, that the scene's rate divides."""

    readout_s: float = 0.05
    write_s: float = 0.15
    buffer: int = 6


@dataclass
class Battery:
    """Percent, draining by what was shot and by the hours of the scene."""

    percent: float = 100.0
    per_frame: float = 0.01
    per_hour: float = 3.0
    since_utc: float = field(default=0.0)

    def level(self, utc: float) -> int:
        drained = self.per_hour * max(0.0, utc - self.since_utc) / 3600
        return max(0, min(100, round(self.percent - drained)))

    def set(self, percent: float, utc: float) -> None:
        self.percent, self.since_utc = percent, utc


class Body:
    """Thread-safe. Answers at once; frames are developed and written on a thread of its own, in order."""

    def __init__(
        self,
        clock: ScaledClock,
        card: Card,
        eye: Looks,
        record: Record,
        pace: Pace,
        focal_length_mm: float,
        raw: bool,
        maker: Maker = GENERIC,
    ) -> None:
        self.clock, self.card, self.eye, self.record, self.pace = clock, card, eye, record, pace
        self.maker = maker
        self.specs = specs(focal_length_mm) | dict(maker.specs)
        self._settings: dict[Prop, Value] = {code: spec.default for code, spec in self.specs.items()}
        if raw:
            self._settings[Prop.COMPRESSION] = maker.raw_and_jpeg
        self.battery = Battery(since_utc=clock.utc())
        self._told_level = self.battery.level(clock.utc())
        self._clock_error_s = 0.0
        self._lock = threading.RLock()
        self._busy_until = 0.0
        self._open: Exposure | None = None
        self._frames: queue.SimpleQueue[Exposure | None] = queue.SimpleQueue()
        self._unwritten = 0
        self._written_mono = 0.0
        self.send: Send = lambda event, params: None
        self.live_view = False
        self.button = 0  # how far a host holds the release, of a body that is released by pressing it
        self._untold: deque[tuple[int, Sequence[int]]] = deque(maxlen=_MOST_EVENTS)
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._develop_all, name="developing")
        self._thread.start()

    # ---- settings

    def stamp(self, utc: float) -> datetime:
        """The camera's own clock at a moment of the scene."""
        return datetime.fromtimestamp(utc + self._clock_error_s, UTC)

    def get(self, prop: Prop) -> Value:
        utc = self.clock.utc()
        if prop is Prop.BATTERY_LEVEL:
            return self.battery.level(utc)
        if prop is Prop.DATE_TIME:
            return self.stamp(utc).strftime("%Y%m%dT%H%M%S")
        if prop is Prop.NIKON_EXPOSURES_LEFT:
            return self.card.free_images
        if prop is Prop.NIKON_EXPOSURE_TIME:
            here = self.get(Prop.EXPOSURE_TIME)
            return next(theirs for theirs, code in self.maker.shutter.items() if code == here)
        with self._lock:
            if prop in (Prop.EXPOSURE_TIME, Prop.F_NUMBER) and self._settings[Prop.EXPOSURE_PROGRAM] != Program.MANUAL:
                return self._automatic(utc)[prop]
            return self._settings[prop]

    def set(self, prop: Prop, value: Value) -> None:
        """Raises Refused with the PTP response that says why."""
        spec = self.specs[prop]
        if not spec.writable:
            raise Refused(Response.ACCESS_DENIED)
        with self._lock:
            if prop in HELD_WHILE_EXPOSING and self.exposing:
                raise Refused(Response.DEVICE_BUSY)
            if not spec.allows(value):
                raise Refused(Response.INVALID_DEVICE_PROP_VALUE)
            if prop is Prop.DATE_TIME:
                self._set_clock(str(value))
            elif prop is Prop.NIKON_EXPOSURE_TIME:
                self._settings[Prop.EXPOSURE_TIME] = self.maker.shutter[int(value)]
            else:
                self._settings[prop] = value

    def _set_clock(self, text: str) -> None:
        try:
            wanted = datetime.strptime(text[:15], "%Y%m%dT%H%M%S").replace(tzinfo=UTC)
        except ValueError as error:
            raise Refused(Response.INVALID_DEVICE_PROP_VALUE) from error
        self._clock_error_s = wanted.timestamp() - self.clock.utc()

    def _automatic(self, utc: float) -> dict[Prop, int]:
        """Shutter and aperture in a program other than manual, from the camera's own meter."""
        program = self._settings[Prop.EXPOSURE_PROGRAM]
        shutter, aperture = int(self._settings[Prop.EXPOSURE_TIME]), int(self._settings[Prop.F_NUMBER])
        gain = 2.0 ** self.eye.metered_ev(utc) * ISO[int(self._settings[Prop.EXPOSURE_INDEX])] / 100
        gain /= 2.0 ** (int(self._settings[Prop.EXPOSURE_BIAS]) / 1000)
        if program == Program.SHUTTER_PRIORITY:
            wanted = (SHUTTER_S.get(shutter, 30.0) * gain) ** 0.5
            aperture = min(APERTURE, key=lambda c: abs(APERTURE[c] / wanted - 1))
        else:
            wanted = APERTURE[aperture] ** 2 / gain
            shutter = min(SHUTTER_S, key=lambda c: abs(SHUTTER_S[c] / wanted - 1))
        return {Prop.EXPOSURE_TIME: shutter, Prop.F_NUMBER: aperture}

    # ---- events

    def tell(self, event: Event, params: Sequence[int]) -> None:
        """Send an event, or keep it for a body that is asked for them."""
        if self.maker.polled:
            self._untold.append((event, params))
        else:
            self.send(event, params)

    def take_events(self) -> list[tuple[int, Sequence[int]]]:
        """The events that were kept, oldest first, once."""
        taken = []
        while self._untold:
            taken.append(self._untold.popleft())
        return taken

    # ---- the shutter

    @property
    def open(self) -> bool:
        """The shutter was opened until further notice."""
        return self._open is not None

    @property
    def exposed_until(self) -> float:
        """CLOCK_MONOTONIC second at which the last exposure is read out; infinite while the shutter is held open."""
        return math.inf if self._open is not None else self._busy_until

    @property
    def exposing(self) -> bool:
        """The shutter is open, or the sensor not yet read out."""
        return self._open is not None or time.monotonic() < self._busy_until

    def release(self, bulb: bool = False, flaws: frozenset[str] = frozenset()) -> None:
        """Open the shutter now; returns at once, raises Refused. `bulb` leaves it open until `close_shutter`."""
        with self._lock:
            if self.exposing or self._unwritten >= self.pace.buffer:
                raise Refused(Response.DEVICE_BUSY)
            if self.card.free_images < 1:
                raise Refused(Response.STORE_FULL)
            labels = {p: int(self.get(p)) for p in _LABELLED}
            if (labels[Prop.EXPOSURE_TIME] == BULB) != bulb:
                raise Refused(Response.INVALID_PARAMETER)
            released_mono = time.monotonic()
            exposure = Exposure(
                number=self.card.next_number(),
                released_mono=released_mono,
                released_utc=self.clock.epoch_utc + self.clock.from_wall(released_mono),
                aperture=APERTURE[labels[Prop.F_NUMBER]],
                iso=ISO[labels[Prop.EXPOSURE_INDEX]],
                white_balance=int(self._settings[Prop.WHITE_BALANCE]),
                raw=self._settings[Prop.COMPRESSION] == self.maker.raw_and_jpeg,
                labels=labels,
                flaws=flaws,
            )
            self._unwritten += 1
            self.battery.percent -= self.battery.per_frame
            if bulb:
                self._open = exposure
            else:
                self._expose(exposure, SHUTTER_S[labels[Prop.EXPOSURE_TIME]])

    def close_shutter(self) -> None:
        """End a bulb exposure; raises Refused where none is open."""
        with self._lock:
            if self._open is None:
                raise Refused(Response.CAPTURE_ALREADY_TERMINATED)
            exposure, self._open = self._open, None
            self._expose(exposure, (time.monotonic() - exposure.released_mono) * self.clock.rate)

    def _expose(self, exposure: Exposure, shutter_s: float) -> None:
        self._busy_until = exposure.released_mono + (shutter_s + self.pace.readout_s) / self.clock.rate
        self._frames.put(replace(exposure, shutter_s=shutter_s))

    # ---- developing and writing

    def _develop_all(self) -> None:
        while (exposure := self._frames.get()) is not None:
            picture = self.eye.take(exposure, self.stamp(exposure.released_utc))
            read_out = exposure.released_mono + ((exposure.shutter_s or 0) + self.pace.readout_s) / self.clock.rate
            due = max(read_out, self._written_mono) + self.pace.write_s / self.clock.rate
            self._stopped.wait(max(0.0, due - time.monotonic()))
            self._write(exposure, picture)
            self._written_mono = time.monotonic()
            with self._lock:
                self._unwritten -= 1

    def _write(self, exposure: Exposure, picture: Picture) -> None:
        files = {Card.handle(exposure.number, 1): picture.jpeg}
        if picture.raw is not None:
            files[Card.handle(exposure.number, 2)] = picture.raw
        why = "powered off" if self._stopped.is_set() else "by the script" if "unwritten" in exposure.flaws else ""
        why = why or ("sent to the host" if "to host" in exposure.flaws else "")
        try:
            if "nospace" in exposure.flaws:
                self.card.fill = True
            if not why:
                self.card.write(files, self.stamp(exposure.released_utc).timestamp())
        except Full:
            why = "card full"
        self.record.add(
            handles=list(files),
            files=[str(self.card.path(h).relative_to(self.card.root)) for h in files],
            released_mono=exposure.released_mono,
            released_utc=datetime.fromtimestamp(exposure.released_utc, UTC).isoformat(timespec="milliseconds"),
            shutter_s=exposure.shutter_s,
            aperture=exposure.aperture,
            iso=exposure.iso,
            mean_code=round(picture.mean_code, 2),
            mean_linear=picture.mean_linear,
            flaws=sorted(exposure.flaws),
            written=not why,
            why=why,
        )
        if why == "card full":
            self.tell(Event.STORE_FULL, [STORAGE_ID])
        elif not why:
            times = 0 if "noevent" in exposure.flaws else 2 if "twice" in exposure.flaws else 1
            for handle in files:
                for _ in range(times):
                    self.tell(Event.OBJECT_ADDED, [handle])
        self.tell(Event.CAPTURE_COMPLETE, [])
        level = int(self.get(Prop.BATTERY_LEVEL))
        if level != self._told_level:
            self._told_level = level
            self.tell(Event.DEVICE_PROP_CHANGED, [Prop.BATTERY_LEVEL])

    def stop(self) -> None:
        """Write nothing more and join the thread; what was exposed and not written is recorded as lost."""
        self._stopped.set()
        self._frames.put(None)
        self._thread.join()
        self.record.close()
