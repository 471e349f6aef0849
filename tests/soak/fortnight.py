"""Days of a rig on a mast: a window each evening, faults in it, and nights in which its power fails."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import time
import urllib.error
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Any

from controller.decide.plan import plan_from
from controller.decide.schedule import Window, windows
from controller.store import Store
from controller.store.files import database_path
from controller.words.clock import ScaledClock
from controller.words.documents import Frame, Note
from controller.words.times import iso
from tests.soak.base_time import BaseTime
from tests.soak.days import CAMERA_FAULTS, Day, Event
from tests.support.endings import files_as_logged
from tests.support.fault_schedule import Outcome, Schedule, compare
from tests.support.rigs import EVENING_UTC, LATITUDE, LONGITUDE, plan
from tests.support.service import Service
from tests.support.simcam import SimulatedCamera, start_simulated_camera

RATE = 30.0
INTERVAL_S = 0.35 * RATE
LEAD_WALL_S = 12.0
"""A rig without power is started so long before its window; most of that a busy machine may need."""

PATIENCE_S = 90.0


@dataclass
class Soaked:
    """What came of it: what is wrong stands in the outcome; `left_out` is what this machine cannot do."""

    outcome: Outcome
    days: int = 0
    kinds: dict[str, int] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)
    windows_empty: list[str] = field(default_factory=list)

    @property
    def well(self) -> bool:
        return self.outcome.well and not self.windows_empty


class Fortnight:
    """A rig in `rig`, its camera and its clock beside that in `directory`."""

    def __init__(self, seed: int, days: list[Day], minutes: float, directory: Path, rig: Path) -> None:
        self._days, self._directory, self._rig = days, directory, rig
        self._document = plan(
            INTERVAL_S,
            when={"every": "day", "start": "sunset-10min", "duration": f"{minutes:g}min"},
            light={"kind": "follow", "shutter_s": [0.0005, 0.02 * RATE], "iso": [100, 3200], "aperture": [2.8, 2.8]},
            files={"fetch": "all"},
        )
        self.windows: list[Window] = list(islice(windows(plan_from(self._document), EVENING_UTC), len(days)))
        self._clock = ScaledClock(EVENING_UTC, time.monotonic(), RATE)
        self._base = BaseTime(self._clock)
        self._off = directory / "off"
        self._camera: SimulatedCamera | None = None
        self._service: Service | None = None
        self._shoot = ""
        self.result = Soaked(Outcome(seed))

    def run(self) -> Soaked:
        """All days, and what log, files and the camera's record then say of each other."""
        outcome, begun = self.result.outcome, time.monotonic()
        try:
            for day, window in zip(self._days, self.windows, strict=True):
                self._morning(window)
                self._evening(day, window)
                self.result.days += 1
                if outcome.trouble:
                    break
                self._night(day)
            self._end()
        finally:
            for each in (self._service, self._camera):
                if each is not None and each.process.poll() is None:
                    each.stop()
        log, notes = asyncio.run(self._log())
        assert self._camera is not None
        record = self._base.record(self._camera.record())
        try:
            based = self._base.frames(log, notes)
            compare(Schedule(outcome.seed, 0, RATE, 0.35, {}, "all", ()), outcome, based, record, notes, self._camera)
        except ValueError as error:
            outcome.trouble.append(str(error))
        outcome.trouble += files_as_logged(self._rig, log)
        outcome.took_s = round(time.monotonic() - begun, 1)
        self._windows_shot(log)
        return self.result

    # ---- a day

    def _morning(self, window: Window) -> None:
        """It is shortly before the window, for the rig and for the camera, whose battery was changed."""
        now_utc = window.start_utc - LEAD_WALL_S * RATE
        self._put(now_utc - self._clock.utc())
        ports = {}
        if self._camera is not None:
            words = ("port", "event_port", "control_port")
            ports = {word: getattr(self._camera, word) for word in words}
        self._camera = start_simulated_camera(
            self._directory, latitude=LATITUDE, longitude=LONGITUDE, rate=RATE, epoch_mono=time.monotonic(),
            epoch_utc=iso(now_utc), write=0.03 * RATE, readout=0.01 * RATE, **ports,
        )  # fmt: skip
        if self._service is None:
            self._start()
        if not self._shoot:
            self._shoot = self._asked().shoot(self._document)

    def _evening(self, day: Day, window: Window) -> None:
        for event in day.events:
            self._until(lambda event=event: self._passed(window) >= event.share, f"{event.kind} has its time")
            self._happen(event)
            self.result.kinds[event.kind] = self.result.kinds.get(event.kind, 0) + 1
        # A clock that was put in mid-window moves its end along.
        self._until(lambda: self._now()["state"] in ("waiting", "done"), "the window is over")

    def _night(self, day: Day) -> None:
        assert self._service is not None
        assert self._camera is not None
        if day.night != "runs on":
            (self._service.kill if day.night == "killed" else self._service.stop)()
            self._service = None
        self._camera.stop()

    def _end(self) -> None:
        if self._service is None:
            self._start()
        with contextlib.suppress(urllib.error.HTTPError):  # it has ended by itself
            self._asked().post(f"/api/v1/shoots/{self._shoot}/stop", {})
        self.result.outcome.state = self._asked().wait_for_end(self._shoot)["state"]
        self._asked().stop()
        self._service = None

    # ---- what happens

    def _happen(self, event: Event) -> None:
        assert self._camera is not None
        service = self._asked()
        match event.kind:
            case "card full":
                self._camera.control("fault", word="full")
                time.sleep(event.lasts_s)
                self._camera.control("fault", word="free")
            case "worker killed":
                for pid in service.pids()[1:]:
                    with contextlib.suppress(ProcessLookupError):
                        os.kill(pid, signal.SIGKILL)
            case "rig killed":
                service.kill()
                time.sleep(event.lasts_s)
                self._start()
            case "clock put":
                self._put(self._base.puts[-1][1] + event.step_s)
            case "disk full":
                self._disk_full(event.lasts_s)
            case kind if kind in CAMERA_FAULTS:
                self._camera.control("script", words=event.words)

    def _disk_full(self, seconds: float) -> None:
        if not os.path.ismount(self._rig):
            self.result.left_out.append("a full disk: the rig has no disk of its own here")
            return
        filler = self._rig / "filler"
        with contextlib.suppress(OSError), filler.open("wb", buffering=0) as file:
            while True:
                file.write(bytes(1 << 20))
        time.sleep(seconds)
        filler.unlink()

    # ---- the rig

    def _start(self) -> None:
        assert self._camera is not None
        self._service = Service(self._rig, self._camera, clock=self._clock, off=self._off)

    def _asked(self) -> Service:
        assert self._service is not None
        return self._service

    def _put(self, off_s: float) -> None:
        """The rig's clock stands so far before the one that never steps."""
        fresh = self._off.with_suffix(".new")
        fresh.write_text(repr(off_s))
        fresh.replace(self._off)
        self._base.put(off_s)

    def _now(self) -> dict[str, Any]:
        return dict(self._asked().get(f"/api/v1/shoots/{self._shoot}"))

    def _passed(self, window: Window) -> float:
        """Share of the window, by the clock as it was in the morning."""
        morning = next(at for at, off in reversed(self._base.puts) if at + off <= window.start_utc)
        begun = morning + LEAD_WALL_S * RATE
        return (self._clock.utc() - begun) / (window.stop_utc - window.start_utc)

    def _until(self, condition: Callable[[], bool], what: str) -> None:
        span = self.windows[0].stop_utc - self.windows[0].start_utc
        ends = time.monotonic() + PATIENCE_S + 2 * span / RATE
        while not condition():
            if time.monotonic() > ends:
                self.result.outcome.trouble.append(f"waited in vain until {what}, on day {self.result.days + 1}")
                return
            time.sleep(0.1)

    async def _log(self) -> tuple[list[Frame], list[Note]]:
        async with await Store.open(database_path(self._rig), read_only=True) as store:
            return await store.frames(self._shoot, limit=1_000_000), await store.notes(self._shoot, limit=1_000_000)

    def _windows_shot(self, log: list[Frame]) -> None:
        """In each window some slots were released; how many, this busy machine decides too."""
        for window in self.windows[: self.result.days]:
            span = [frame for frame in log if window.start_utc - 600 <= frame.due_utc <= window.stop_utc + 600]
            got = sum(frame.released_utc is not None for frame in span)
            if not span or got < 0.1 * len(span):
                self.result.windows_empty.append(f"{iso(window.start_utc)}: {got} of {len(span)}")
