"""A shoot without an end on a clock that needs no waiting: the daemon's engine and its log, before the model camera."""

from __future__ import annotations

import asyncio
import weakref
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any, cast

from controller.camera.messages import Fetched
from controller.decide.plan import plan_from
from controller.engine.book import Book
from controller.engine.hub import Hub
from controller.engine.now import Forecasts, RigFacts, describe
from controller.engine.run import ShootRun
from controller.engine.turn import Turn
from controller.rehearsal.camera import CameraModel, ModelCamera
from controller.rehearsal.loop import VirtualLoop
from controller.rehearsal.metering import ModelMetering
from controller.rehearsal.sky import ModelScene, flat
from controller.rehearsal.weather import clear
from controller.store import Store, schema
from controller.store.database import Database
from controller.words.clock import VirtualClock
from controller.words.documents import Frame, FrameCounts, Note, Now, RigClock, Shoot, ShootState

BEGUN_UTC = 1_790_000_000.0  # in September 2026
COMMIT_EVERY = 500


class Straight:
    """The log's jobs, run at once by whoever asks; stands in for Database, whose writer is a thread."""

    def __init__(self, path: Path) -> None:
        self.path = path
        schema.prepare(path)
        self.connection = schema.connect(path)
        self.connection.execute("PRAGMA synchronous = OFF")
        self._jobs = 0

    async def write(self, job: Callable[[Any], Any]) -> Any:
        if not self.connection.in_transaction:
            self.connection.execute("BEGIN")
        answer = job(self.connection)
        self._jobs += 1
        if self._jobs % COMMIT_EVERY == 0:
            self.connection.execute("COMMIT")
        return answer

    async def read(self, job: Callable[[Any], Any]) -> Any:
        return job(self.connection)


class Endless:
    """`frames` of them; the light follows the sky of a place in the north through its days and nights."""

    def __init__(self, directory: Path, frames: int, *, fetch: str = "all") -> None:
        self.clock = VirtualClock(BEGUN_UTC)
        document = {
            "name": "mast",
            "site": {"latitude": 57.7, "longitude": 11.95, "timezone": "Europe/Stockholm"},
            "when": {"start": "now"},
            "pace": {"kind": "sun", "points": [[2, 5.0], [-6, 9.0], [-14, 22.0]]},
            "light": {"kind": "follow", "shutter_s": [0.0005, 18.0], "iso": [100, 3200], "aperture": [2.8, 2.8]},
            "files": {"fetch": fetch},
        }
        plan = plan_from(document)
        shoot = Shoot(
            id="mast-2026", plan_name=plan.name, plan=plan.document(), state=ShootState.WAITING, created_utc=BEGUN_UTC
        )
        self._log = Straight(directory / "log.sqlite")
        self.store = Store(cast(Database, self._log))
        weakref.finalize(self, self._log.connection.close)
        self.hub = Hub("endless")
        self.camera = ModelCamera(self.clock, ModelScene(plan, clear(), flat(0.0)), CameraModel(), None, 0)
        self._shoot, self._turn = shoot, Turn()
        self._plan, self._directory = plan, directory
        self._frames = frames
        self._looks: tuple[int, int, Callable[[int], None]] = (1, 1, lambda done: None)
        self.run: ShootRun
        self.done = 0

    def every(self, look: Callable[[int], None], *, first: int, then: int) -> None:
        """`look` at frame `first`, and at every multiple of `then`."""
        self._looks = (first, then, look)

    def shoot(self) -> None:
        """Raises what ends the shoot, but its plan."""
        loop = VirtualLoop(self.clock)  # type: ignore[abstract]
        loop.run_until_complete(self._play())

    async def _play(self) -> None:
        await self.store.add_shoot(self._shoot)
        book = Book(self._shoot.id, self.store, self.hub)
        self.run = ShootRun(
            self._shoot,
            self._plan,
            self.camera,
            book,
            self.clock,
            self._directory,
            lambda: None,
            self._turn,
            metering=lambda run: ModelMetering(self.camera),
        )
        self.camera.listen(self._listen, lambda: self._turn.owner is self.run)
        await self.camera.start()
        await self.run.run()
        await self.camera.stop()
        if self._log.connection.in_transaction:
            self._log.connection.execute("COMMIT")

    async def _listen(self, report: Any) -> None:
        try:
            await self._heard(report)
        except Exception as error:  # the camera's task would end with it, unheard
            asyncio.get_running_loop().call_exception_handler({"exception": error})
            raise

    async def _heard(self, report: Any) -> None:
        if isinstance(report, Fetched):  # the model camera has no files, and so no checksums
            report = replace(report, sha256=sha256(b"%d" % report.seq).hexdigest())
        await self.run.reports.take(report)
        done = self.run.book.counts.done
        if done == self.done:
            return
        self.done = done
        first, then, look = self._looks
        if done == first or done % then == 0:
            look(done)
        if done >= self._frames and not self.run.stopping:
            await self.run.stop("enough")

    # ---- what is asked of a rig

    def now(self) -> Now:
        facts = RigFacts(
            utc=self.clock.utc(),
            rate=1.0,
            event_id=self.hub.last_id,
            camera=None,
            beside=[],
            free_bytes=10**10,
            fetching_paused=False,
            bytes_per_frame=None,
            pictured=self.run.reports.pictured,
            past=None,
            heater=None,
            wiring=[],
            log=[],
            findings=[],
            messages=None,
            clock=RigClock(utc=self.clock.utc(), state="right"),
            clock_trouble=None,
            places=[],
            places_trouble=None,
        )
        return describe(facts, self.run, Forecasts())

    def page(self, after: int) -> list[Frame]:
        return self._at_once(self.store.frames(self._shoot.id, after, 500))

    def last(self) -> Frame | None:
        return self._at_once(self.store.last_frame(self._shoot.id))

    def notes(self) -> list[Note]:
        return self._at_once(self.store.notes(self._shoot.id, limit=100_000))

    def counts(self) -> FrameCounts:
        return self._at_once(self.store.counts(self._shoot.id))

    def bytes(self) -> int:
        """Of the database, nothing waiting beside it."""
        self._log.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return self._log.path.stat().st_size

    @staticmethod
    def _at_once(work: Any) -> Any:
        """The answer of a coroutine that waits for nothing."""
        try:
            work.send(None)
        except StopIteration as answer:
            return answer.value
        raise AssertionError("it waited")
