"""A model of a camera behind its link: it obeys orders on the clock, as slowly as a body would; no process, no files.

Implements camera.protocol.Camera. What it reports, and when, is what the camera process reports of a real body: see
camera.messages.Release for the order of things.
"""

from __future__ import annotations

import asyncio
import math
import random
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from controller.camera.messages import (
    BUSY_WRITING,
    STILL_EXPOSING,
    STORE_FULL,
    TOO_SLOW,
    CardFile,
    Fetched,
    Gone,
    Missed,
    Opened,
    Preview,
    Release,
    Released,
    Report,
    Settled,
    Status,
    Trouble,
    Written,
)
from controller.camera.protocol import CONNECTING, Listener
from controller.camera.watch import REMEDY, SILENCE_S
from controller.camera.worker.faults import CARD_REMEDY
from controller.decide.exposure import ANY_BODY, ASSUMED, Body, triple
from controller.decide.meter import Reading
from controller.rehearsal.picture import reading
from controller.rehearsal.sky import ModelScene
from controller.words.clock import VirtualClock
from controller.words.errors import BadInput, CameraError

FILES_KEPT = 400
"""Of the card's listing, for recovery: files of frames long past are asked for by nobody."""

_SETTLE_S = 0.05


@dataclass(frozen=True, slots=True)
class Spread:
    """A duration that varies: its median in seconds, and the standard deviation of its natural logarithm."""

    median_s: float
    sigma: float = 0.0


@dataclass(frozen=True, slots=True)
class CameraModel:
    """What a rehearsal takes a body to be like.

    The defaults are those of a body of 24 megapixels that writes RAW and JPEG (common practice, no source).
    """

    release_latency_s: float = 0.05  # from the call to the open shutter
    readout_s: float = 0.1  # after an exposure, until the next one can begin
    write_s: Spread = Spread(0.5, 0.2)  # to the card, one frame after the other
    buffer: int = 10  # frames that may wait to be written
    bytes_per_frame: int = 30_000_000
    card_bytes: int | None = None  # free on the card at the beginning; None: it never fills
    sleeps_after_s: float | None = None  # without a release; None: its timer is off
    wakes_in_s: float = 2.0
    model: str = "model camera"

    def __post_init__(self) -> None:
        """Raises BadInput (bad-camera-model)."""
        numbers = {
            "release_latency_s": self.release_latency_s,
            "readout_s": self.readout_s,
            "write_s": self.write_s.median_s,
            "sigma": self.write_s.sigma,
            "wakes_in_s": self.wakes_in_s,
            "sleeps_after_s": self.sleeps_after_s or 0.0,
            "card_bytes": float(self.card_bytes or 0),
        }
        for name, value in numbers.items():
            if not 0 <= value < math.inf:
                raise BadInput("bad-camera-model", f"{value:g} makes no sense", name, "Give 0 or more")
        if self.buffer < 1 or self.bytes_per_frame < 1:
            what = "a frame has at least one byte, and a buffer room for one frame"
            raise BadInput("bad-camera-model", what, "bytes_per_frame, buffer", "Give 1 or more")


class ModelCamera:
    """One body before `scene`, on `clock`. `woken` holds the slots for which it had to be woken."""

    def __init__(
        self, clock: VirtualClock, scene: ModelScene, settings: CameraModel, body: Body | None, seed: int
    ) -> None:
        self.id, self.address = "camera-1", "model:"
        self.opened: Opened | None = None
        self.trouble: str | None = CONNECTING
        self.woken: set[int] = set()
        self.taken = 0
        self._clock, self._scene, self._settings, self._body = clock, scene, settings, body or ANY_BODY
        self._draw = random.Random(seed)
        self._aperture = self._body.aperture[0] if self._body.aperture else ASSUMED.aperture
        self._orders: dict[int, Release] = {}
        self._over_ev: dict[int, float] = {}
        self._files: deque[CardFile] = deque(maxlen=FILES_KEPT)
        self._free_bytes = settings.card_bytes
        self._full = False
        self._free_mono = 0.0  # when the sensor is read out
        self._awake_mono = self._used_mono = 0.0
        self._written: deque[float] = deque()  # when frames in the buffer will be written
        self._listener: Listener | None = None
        self._listens: Callable[[], bool] = lambda: True
        self._told: deque[Report] = deque()
        self._waiting: asyncio.Future[None] | None = None
        self._passing: asyncio.Task[None] | None = None

    # ---- what the engine calls

    def listen(self, listener: Listener, listens: Callable[[], bool] = lambda: True) -> None:
        """Reports go to `listener`, while it `listens`."""
        self._listener, self._listens = listener, listens

    async def start(self) -> None:
        """The body is there at once."""
        self._passing = asyncio.create_task(self._pass_on())
        self._used_mono = self._clock.mono()
        self._open()

    async def release(self, order: Release) -> None:
        if self.opened is None:
            raise CameraError("no-camera", self.trouble or "the camera was just lost", self.id, retryable=True)
        self._orders[order.seq] = order
        now = self._clock.mono()
        if self._asleep(now):
            self._wake(order, now)
        if self.opened is not None:
            at = max(order.due_mono, self._awake_mono + _SETTLE_S)
            self._clock.call_at(at, lambda: self._try(order))

    async def cancel(self, seq: int) -> None:
        if self._orders.pop(seq, None) is not None:
            self._tell(Missed(seq, "cancelled"))

    async def fetch(self, seq: int, camera_file: str, directory: str, stem: str) -> None:
        self._fetched(seq, camera_file, directory, stem)

    async def pause_fetching(self, paused: bool) -> None: ...

    async def files(self, fresh: bool = False) -> list[CardFile]:
        return list(self._files)

    async def status(self) -> Status:
        return Status(0, None, self._free_bytes, self._room())

    async def stop(self) -> None:
        if self._passing is not None:
            self._passing.cancel()

    def picture(self, seq: int) -> Reading:
        """The reading of a frame's picture, once."""
        return reading(self._over_ev.pop(seq))

    # ---- sleep

    def _asleep(self, now: float) -> bool:
        after_s = self._settings.sleeps_after_s
        return after_s is not None and now >= self._awake_mono and now - self._used_mono > after_s

    def _wake(self, order: Release, now: float) -> None:
        """The first call wakes the body and is answered once it is awake; a process mute for long is given up."""
        self.woken.add(order.seq)
        self._awake_mono = self._used_mono = now + self._settings.wakes_in_s
        if self._settings.wakes_in_s <= SILENCE_S + order.exposure_s:
            return
        what = f"the camera process gave no sign of life for {SILENCE_S + order.exposure_s:.0f} s"
        self._orders.clear()
        self._clock.call_at(now + SILENCE_S + order.exposure_s, lambda: self._lose(what, order.seq))
        self._clock.call_at(self._awake_mono, self._open)

    def _lose(self, what: str, seq: int) -> None:
        self.opened, self.trouble = None, f"{what}. {REMEDY}"
        self._tell(Gone("camera-mute", what, REMEDY, [seq]))

    def _open(self) -> None:
        body = self._body
        self.opened, self.trouble = (
            Opened(
                model=self._settings.model,
                serial="",
                shutter_s=list(body.shutter_s),
                aperture=list(body.aperture),
                iso=list(body.iso),
                shutter_now_s=None,
                aperture_now=None,
                iso_now=None,
                battery_percent=None,
                free_bytes=self._free_bytes,
                free_frames=self._room(),
            ),
            None,
        )
        self._tell(self.opened)

    # ---- a frame's way

    def _try(self, order: Release) -> None:
        """Release, or come back when what stands in the way is over."""
        if self._orders.get(order.seq) is not order or self.opened is None:
            return
        now = self._clock.mono()
        while self._written and self._written[0] <= now:
            self._written.popleft()
        if now > order.latest_mono:
            self._miss(order, TOO_SLOW)
        elif now < self._free_mono:
            self._again(order, self._free_mono, STILL_EXPOSING)
        elif len(self._written) >= self._settings.buffer:
            self._again(order, self._written[0], BUSY_WRITING)
        elif self._room() == 0:
            if not self._full:
                self._full = True
                self._tell(Trouble("card-full", "the camera's card is full", CARD_REMEDY, order.seq))
            self._again(order, math.inf, STORE_FULL)
        else:
            self._expose(order, now)

    def _again(self, order: Release, at_mono: float, cause: str) -> None:
        if at_mono <= order.latest_mono:
            self._clock.call_at(at_mono, lambda: self._try(order))
        else:
            self._clock.call_at(order.latest_mono, lambda: self._miss(order, cause))

    def _miss(self, order: Release, cause: str) -> None:
        if self._orders.pop(order.seq, None) is not None:
            self._tell(Missed(order.seq, cause))

    def _room(self) -> int | None:
        """Frames for which the card has room, None where that is not counted."""
        return None if self._free_bytes is None else self._free_bytes // self._settings.bytes_per_frame

    def _expose(self, order: Release, now: float) -> None:
        settings = self._settings
        del self._orders[order.seq]
        opened = now + settings.release_latency_s
        self._free_mono = opened + order.shutter_s + settings.readout_s
        self._used_mono = opened + order.shutter_s
        last = self._written[-1] if self._written else 0.0
        spread = settings.write_s
        write_s = spread.median_s * math.exp(self._draw.gauss(0.0, spread.sigma)) if spread.sigma else spread.median_s
        written = max(self._free_mono, last) + write_s
        self._written.append(written)
        if self._free_bytes is not None:
            self._free_bytes -= settings.bytes_per_frame
        self._aperture = order.aperture or self._aperture  # 0 leaves it alone
        if order.fetch != "none":
            mid_utc = self._clock.epoch_utc + opened + order.shutter_s / 2
            self._over_ev[order.seq] = self._scene.ev(mid_utc) - triple(order.shutter_s, self._aperture, order.iso).ev
        self._tell(
            Settled(order.seq, order.shutter_s, self._aperture, order.iso, _SETTLE_S),
            Released(order.seq, now, settings.release_latency_s),
        )
        self._clock.call_at(written, lambda: self._write(order, written))

    def _write(self, order: Release, at_mono: float) -> None:
        self.taken += 1
        path = f"/store/DCIM/{100 + self.taken // 10_000 % 900}MODEL/DUSK{self.taken % 10_000:04d}.JPG"
        self._files.append(CardFile(path, self._settings.bytes_per_frame, float(int(self._clock.utc()))))
        if self.opened is None:
            self._over_ev.pop(order.seq, None)  # its process is gone; the engine finds the file on the card
            return
        self._tell(Written(order.seq, [path], at_mono))
        if order.fetch != "none":
            self._tell(Preview(order.seq, b""))
        if order.fetch == "all":
            self._fetched(order.seq, path, order.directory, order.stem)

    def _fetched(self, seq: int, camera_file: str, directory: str, stem: str) -> None:
        size = self._settings.bytes_per_frame
        self._tell(Fetched(seq, camera_file, f"{directory}/{stem}.JPG", size, ""))

    # ---- telling

    def _tell(self, *reports: Report) -> None:
        self._told.extend(reports)
        if self._waiting is not None and not self._waiting.done():
            self._waiting.set_result(None)

    async def _pass_on(self) -> None:
        loop = asyncio.get_running_loop()
        while True:
            while self._told:
                report = self._told.popleft()
                if self._listener is not None and self._listens():
                    await self._listener(report)
            self._waiting = loop.create_future()
            await self._waiting
