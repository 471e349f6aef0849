"""The rig: wires store, cameras, engine and event stream together, and is what the API talks to."""

from __future__ import annotations

import asyncio
import logging
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from controller.aside.clip_process import ClipProcess
from controller.aside.process import CLIP_CHECK_S, FORECAST_S, MESSAGE_S, REHEARSAL_S, Aside
from controller.camera.detect import detect
from controller.camera.link import CameraLink
from controller.camera.messages import Opened, Report, Status, Trouble
from controller.camera.power import PowerCycle
from controller.decide.exposure import Body
from controller.decide.plan.tables import Site
from controller.engine import vitals
from controller.engine.access import Access
from controller.engine.anew import MadeAnew, make_anew, told_lately, unseen
from controller.engine.batteries import Batteries
from controller.engine.bodies import Bodies, body_of
from controller.engine.chores import Chores
from controller.engine.clips import LOOK_EVERY_S as CLIPS_EVERY_S
from controller.engine.clips import Clips
from controller.engine.copying import Copying
from controller.engine.dials import Dials, camera_now
from controller.engine.disk import RigDisk
from controller.engine.freeing import Freeing
from controller.engine.hub import Hub
from controller.engine.looking import Looking
from controller.engine.loose_ends import check_copies, tidy
from controller.engine.noting import note
from controller.engine.now import Forecasts, RigFacts, describe
from controller.engine.post import LOOK_EVERY_S as POST_EVERY_S
from controller.engine.post import Post
from controller.engine.rig_time import LOOK_EVERY_S, RigTime
from controller.engine.shelf import Shelf, site_in
from controller.engine.shoots import Shoots
from controller.engine.turn import Turn
from controller.engine.watching import LOOK_EVERY_S as WATCH_EVERY_S
from controller.engine.watching import Watching
from controller.engine.wires import Wires
from controller.store import Store
from controller.store.files import database_path, preview_path
from controller.store.frame_pages import Page
from controller.words.clock import Clock
from controller.words.documents import CameraNow, ClockState, Frame, Now, Shoot, ShootState
from controller.words.errors import BadInput, CameraError, StoreError

log = logging.getLogger(__name__)

DISK_EVERY_S, STATUS_EVERY_S, NOW_EVERY_S, FREE_EVERY_S = 10.0, 60.0, 2.0, 60.0


class Rig:
    """One service with its camera at one place. All that it writes is in `directory`."""

    def __init__(
        self, directory: Path, clock: Clock, addresses: list[str] | None = None, power: PowerCycle | None = None
    ) -> None:
        self.directory = directory.resolve()
        self.clock = clock
        self.hub = Hub(f"{datetime.now(UTC):%Y%m%d%H%M%S}")
        self.store: Store
        self.plans = Shelf(self)
        self.rehearsals, self.forecasts = Aside("rehearsal", REHEARSAL_S), Aside("forecast", FORECAST_S)
        self.effects = Aside("effect", FORECAST_S)
        self.links: list[CameraLink] = []
        self.bodies = Bodies()
        self._addresses, self._power = addresses or [], power
        self._status: dict[str, Status | Opened] = {}
        self.shoots: Shoots
        self.access: Access
        self.watching: Watching
        self._forecasts = Forecasts()
        self._mended: list[str] = []  # what of the log was made anew at this start
        self.anew: MadeAnew | None = None  # the last time that all of it was
        self._checking: asyncio.Task[None] | None = None
        self._past: Shoot | None = None
        self._past_frame: Frame | None = None
        self._turns: dict[str, Turn] = {}
        self._batteries = Batteries(self._turns, clock)
        self._chores = Chores(self._chore_failed)
        self._disk = RigDisk(self.directory, self.links)
        self.looking = Looking(self.links, self._turns, clock, self.directory)
        self.dials = Dials(self.links, self._turns, clock)
        self.wires = Wires(self)
        self.copying = Copying(self)
        self.clips = Clips(self, self._disk, ClipProcess(), Aside("clip_check", CLIP_CHECK_S))
        self.freeing = Freeing(self, self.copying, self.links, lambda: self.time.now().state is ClockState.RIGHT)
        self.time = RigTime(clock, self.directory, self._clock_judged)

    # ---- life

    async def open(self) -> None:
        """Open the log, reach for the cameras, and go on with every shoot that has not ended. Raises StoreError."""
        try:
            self.directory.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            what = f"cannot be the rig's directory: {error.strerror or error}"
            raise BadInput("bad-directory", what, str(self.directory), "Name another with --dir") from error
        self.wires.read()
        self.store = await Store.open(database_path(self.directory))
        await self.plans.open()
        self._mended = await make_anew(self.store, self.directory, self.clock)
        self.anew = await told_lately(self.store)
        if self.store.unclean:
            try:
                await check_copies(self.store, self.directory, self.clock)
                await tidy(self.store, self.directory, self.clock)
            except StoreError as error:  # a log that takes nothing now keeps no shoot from being taken up
                self._mended.append(unseen(error))
        await self.time.open()
        self.access = Access(self.store, now_utc=self.clock.utc)
        await self.access.load()
        self.wires.open(self._chores)
        addresses = self._addresses or await _usb_cameras() or ["usb:"]
        for number, address in enumerate(addresses, 1):
            name = f"camera-{number}"
            link = CameraLink(address, id=name, settings=self.directory / "cameras" / name, power=self._power)
            link.listen(lambda report, link=link: self._take(link, report))  # type: ignore[misc]
            self.links.append(link)
            self._turns[name] = Turn()
        self.shoots = Shoots(
            self.store,
            self.links,
            self._turns,
            self.clock,
            self.directory,
            self.hub,
            self._chores,
            self._publish_now,
            self.wires,
            self.time,
        )
        send = Aside("message", MESSAGE_S).answer
        self.watching = Watching(self, Post(self.directory, self.wires.wiring.messages, send))
        self.watching.open()
        for unread in filter(None, (self.time.unread, self.watching.unread, self.watching.post.unread)):
            await note(self, "file-damaged", unread, level=logging.WARNING)
        await self.shoots.take_up()
        if not self.shoots.runs and (past := await self.store.shoots()):
            self._past = past[-1]
            pictured = await self.store.page(self._past.id, Page(newest=True, previews=True, limit=1))
            self._past_frame = pictured[0] if pictured else None
        for link in self.links:
            await link.start()
        await self._disk.look()
        self._chores.every(DISK_EVERY_S, "disk", self._disk.look)
        self._chores.every(STATUS_EVERY_S, "camera status", self._look_at_cameras)
        self._chores.every(NOW_EVERY_S, "now", self._tell_now)
        self._chores.every(LOOK_EVERY_S, "clock", self.time.look)
        self._chores.every(WATCH_EVERY_S, "health", self.watching.look)
        self._chores.every(POST_EVERY_S, "messages", self.watching.post.look)
        await self.copying.open()
        self._chores.every(FREE_EVERY_S, "freeing", self.freeing.look)
        await self.clips.open()
        self._chores.every(CLIPS_EVERY_S, "films", self.clips.look)
        self._chores.start()
        if self.store.unchecked:
            self._checking = asyncio.create_task(self.store.check())

    async def close(self) -> None:
        """End the processes and close the log; shoots that run go on at the next start."""
        self._chores.stop()
        if self._checking is not None:
            self._checking.cancel()
        await self.clips.close()
        await self.shoots.close()
        await self.watching.close()
        await self.copying.close()
        await self.wires.close()
        await asyncio.gather(*(link.stop() for link in self.links))
        await self.bodies.keep(self.store)
        await self.time.close()
        self.hub.close()
        await self.store.close()

    # ---- shoots

    async def start_shoot(self, plan: str | dict[str, Any]) -> Shoot:
        """Start or schedule a shoot of a plan kept here, or of a document. Raises BadInput, NotFound, Conflict."""
        return await self.shoots.start(await self.plans.chosen(plan), self.plans.keep_new)

    # ---- what is

    def site(self) -> Site | None:
        """Where the rig stands: by its defaults, else by the shoot that it shows; None where neither tells."""
        if self.plans.site is not None or (run := self.shoots.current()) is None:
            return self.plans.site or (site_in(self._past.plan) if self._past else None)
        return run.plan.site

    async def now(self) -> Now:
        """Everything that the phone's first screen shows."""
        return self._now()

    def _now(self) -> Now:
        run = self.shoots.current()
        used = run.company.cameras if run else {link.id for link in self.links[:1]}
        cameras = [self._camera_now(link) for link in self.links if link.id in used]
        facts = RigFacts(
            utc=self.clock.utc(),
            rate=self.clock.rate,
            event_id=self.hub.last_id,
            camera=cameras[0] if cameras else None,
            beside=cameras[1:],
            free_bytes=self._disk.free,
            fetching_paused=self._disk.paused,
            bytes_per_frame=self.bodies.frame_bytes(cameras[0].id) if cameras else None,
            pictured=run.reports.pictured if run else self._past_frame,
            past=self._past,
            heater=self.wires.heater(),
            wiring=self.wires.troubles(),
            log=self._of_log(),
            findings=self.watching.standing,
            messages=self.watching.post.now(),
            clock=self.time.now(),
            clock_trouble=self.time.attention(),
            places=self.copying.now(),
            places_trouble=self.copying.trouble,
            site=self.site(),
        )
        return describe(facts, run, self._forecasts)

    def _of_log(self) -> list[str]:
        """What of the frame log is damaged, or was made anew."""
        told = self._mended
        if self.anew is not None:
            stands, line = self.anew.stands(self.clock.utc()), self.anew.line
            told = [*([line] if stands else []), *(each for each in told if each != line)]
        return [*told, *([str(self.store.damage)] if self.store.damage else [])]

    def cameras(self) -> list[CameraNow]:
        return [self._camera_now(link) for link in self.links]

    def body(self) -> Body | None:
        """What the first camera can set; None where it is not there."""
        opened = self.links[0].opened if self.links else None
        return None if opened is None else body_of(opened)

    def _camera_now(self, link: CameraLink) -> CameraNow:
        return camera_now(link, self._status.get(link.id), self._batteries.hours_left(link.id))

    async def trouble(self) -> str | None:
        """What of the rig does not go on, for a watchdog; None where all does."""
        return await vitals.trouble(self.shoots, self.links, self.store)

    def healthz(self) -> dict[str, Any]:
        """`ok` while no shoot has failed, slots pass as they are due, and the log can be written."""
        runs = self.shoots.all_runs
        last = [self.shoots.last] if self.shoots.last is not None and not runs else []
        stuck = vitals.stuck(self.shoots)
        unlogged = sorted({run.shoot.id for run in runs if run.book.trouble is not None})
        failed = sorted({run.shoot.id for run in [*runs, *last] if run.shoot.state is ShootState.FAILED})
        cameras = {link.id: link.opened is not None for link in self.links}
        ok = not (stuck or unlogged or failed)
        found = {"ok": ok, "cameras": cameras, "stuck": stuck, "unlogged": unlogged, "failed": failed}
        return found | self.wires.health()

    def preview_path(self, frame: Frame) -> Path | None:
        """Where the frame's small picture is by the log, or None. The disk may stand still, and is not asked here."""
        return self.directory / preview_path(frame.shoot, frame.seq, frame.camera) if frame.preview else None

    # ---- cameras and chores

    def _clock_judged(self) -> None:
        """What is known of the clock has changed: every shoot that waits looks again."""
        if hasattr(self, "shoots"):
            for run in self.shoots.all_runs:
                run.waker.wake()
            self._publish_now()

    async def _take(self, link: CameraLink, report: Report) -> None:
        if isinstance(report, Opened | Status):
            self._status[link.id] = report
            self._batteries.heard(link.id, report.battery_percent)
        self.bodies.heard(link.id, report, self.clock.utc(), self.clock.rate)
        self.looking.heard(link.id, report)
        if (owner := self._turns[link.id].owner) is not None:
            await owner.reports.take(report)
        if isinstance(report, Trouble) and report.code == "disk-full":
            await self._disk.look()

    async def _look_at_cameras(self) -> None:
        for link in self.links:
            if link.opened is not None:
                try:
                    self._status[link.id] = status = await link.status()
                    self._batteries.heard(link.id, status.battery_percent)
                    self.bodies.heard(link.id, status, self.clock.utc(), self.clock.rate)
                except CameraError as error:
                    log.info("%s: status not read: %s", link.id, error)
        await self.bodies.keep(self.store)

    async def _chore_failed(self, text: str) -> None:
        await note(self, "engine-trouble", text, level=logging.ERROR)

    async def _tell_now(self) -> None:
        self._publish_now()

    def _publish_now(self) -> None:
        if self.hub.listeners:
            self.hub.publish("now", self._now())


async def _usb_cameras() -> list[str]:
    try:
        return [address for _, address in await detect()]
    except CameraError as error:
        log.warning("%s", error)
        return []
