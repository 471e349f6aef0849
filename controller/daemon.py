"""The rig: wires store, cameras, engine and event stream together, and is what the API talks to."""

from __future__ import annotations

import asyncio
import logging
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from controller.aside import FORECAST_S, REHEARSAL_S, Aside
from controller.camera.detect import detect
from controller.camera.link import CameraLink
from controller.camera.messages import Opened, Report, Status, Trouble
from controller.decide.exposure import Body, check_bulb
from controller.decide.pace import PaceChange, told
from controller.decide.plan import Plan, plan_from
from controller.decide.step import check_adjust
from controller.engine.bodies import Bodies, body_of
from controller.engine.book import Book
from controller.engine.chores import Chores
from controller.engine.dials import Dials, camera_now
from controller.engine.disk import RigDisk
from controller.engine.hub import Hub
from controller.engine.looking import Looking
from controller.engine.now import Forecasts, RigFacts, describe
from controller.engine.run import ShootRun
from controller.engine.shelf import Shelf
from controller.engine.starting import first_window, require_room, shoot_id
from controller.engine.turn import Turn
from controller.store import Store, content_hash
from controller.store.files import database_path, preview_path
from controller.words.clock import Clock
from controller.words.documents import ENDED, CameraNow, Frame, Now, Shoot, ShootState
from controller.words.errors import BadInput, CameraError, Conflict, DuskhandError

log = logging.getLogger(__name__)

STUCK_S = 60.0
"""Wall seconds by which the engine may be behind a slot, beyond its exposure, before the rig calls itself unwell."""

DISK_EVERY_S, STATUS_EVERY_S, NOW_EVERY_S = 10.0, 60.0, 2.0


class Rig:
    """One service with its camera at one place. All that it writes is in `directory`."""

    def __init__(self, directory: Path, clock: Clock, addresses: list[str] | None = None) -> None:
        self.directory = directory.resolve()
        self.clock = clock
        self.hub = Hub(f"{datetime.now(UTC):%Y%m%d%H%M%S}")
        self.store: Store
        self.plans = Shelf(self)
        self.rehearsals, self.forecasts = Aside("rehearsal", REHEARSAL_S), Aside("forecast", FORECAST_S)
        self.links: list[CameraLink] = []
        self.bodies = Bodies()
        self._addresses = addresses or []
        self._status: dict[str, Status | Opened] = {}
        self._runs: dict[str, ShootRun] = {}
        self._tasks: dict[str, asyncio.Task[None]] = {}
        self._shown: ShootRun | None = None
        self._forecasts = Forecasts()
        self._past: Shoot | None = None
        self._past_frame: Frame | None = None
        self._starting = asyncio.Lock()
        self._turns: dict[str, Turn] = {}
        self._chores = Chores()
        self._disk = RigDisk(self.directory, self.links)
        self.looking = Looking(self.links, self._turns, clock, self.directory)
        self.dials = Dials(self.links, self._turns, clock)

    # ---- life

    async def open(self) -> None:
        """Open the log, reach for the cameras, and go on with every shoot that has not ended. Raises StoreError."""
        try:
            self.directory.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            what = f"cannot be the rig's directory: {error.strerror or error}"
            raise BadInput("bad-directory", what, str(self.directory), "Name another with --dir") from error
        self.store = await Store.open(database_path(self.directory))
        addresses = self._addresses or await _usb_cameras() or ["usb:"]
        for number, address in enumerate(addresses, 1):
            name = f"camera-{number}"
            link = CameraLink(address, id=name, settings=self.directory / "cameras" / name)
            link.listen(lambda report, link=link: self._take(link, report))  # type: ignore[misc]
            self.links.append(link)
            self._turns[name] = Turn()
        for shoot in await self.store.open_shoots():
            try:
                plan = plan_from(shoot.plan)
            except BadInput as error:  # written by another version; the other shoots go on
                log.error("shoot %s cannot be taken up: %s", shoot.id, error)
                await self.store.change_shoot(shoot.id, state=ShootState.FAILED, cause=str(error))
            else:
                self._launch(shoot, plan, resumed=True)
        if not self._runs and (past := await self.store.shoots()):
            self._past = past[-1]
            pictured = [frame for frame in await self.store.frames(self._past.id, self._last_seq()) if frame.preview]
            self._past_frame = pictured[-1] if pictured else None
        for link in self.links:
            await link.start()
        await self._disk.look()
        self._chores.every(DISK_EVERY_S, "disk", self._disk.look)
        self._chores.every(STATUS_EVERY_S, "camera status", self._look_at_cameras)
        self._chores.every(NOW_EVERY_S, "now", self._tell_now)
        self._chores.start()

    def _last_seq(self) -> int:
        """A number below the last few slots of the past shoot."""
        assert self._past is not None
        counts = self._past.counts
        return max(0, counts.done + counts.missed + counts.lost - 20)

    async def close(self) -> None:
        """End the processes and close the log; shoots that run go on at the next start."""
        self._chores.stop()
        for task in self._tasks.values():
            task.cancel()
        await asyncio.gather(*self._tasks.values(), return_exceptions=True)
        await asyncio.gather(*(link.stop() for link in self.links))
        await self.bodies.keep(self.store)
        self.hub.close()
        await self.store.close()

    # ---- shoots

    async def start_shoot(self, plan: str | dict[str, Any]) -> Shoot:
        """Start or schedule a shoot of a plan kept here, or of a document. Raises BadInput, NotFound, Conflict."""
        chosen = await self.plans.chosen(plan)
        async with self._starting:
            return await self._start(chosen)

    async def _start(self, chosen: Plan) -> Shoot:
        now = self.clock.utc()
        window = first_window(chosen, now)
        await asyncio.to_thread(require_room, list(self._runs.values()), chosen, now)
        self._require_bulb_for(chosen)
        shoot = Shoot(
            id=shoot_id(chosen.name, now, {shoot.id for shoot in await self.store.shoots()}),
            plan_name=chosen.name,
            plan=chosen.document(),
            plan_sha256=content_hash(chosen.document()),
            state=ShootState.WAITING,
            created_utc=now,
            start_utc=window.start_utc,
            stop_utc=window.stop_utc,
        )
        await self.store.add_shoot(shoot)
        await self.plans.keep_new(chosen)  # so that it can be started again from the phone
        self._launch(shoot, chosen, resumed=False)
        return shoot

    def _require_bulb_for(self, plan: Plan) -> None:
        for link in self.links:
            if (opened := link.opened) is not None:
                check_bulb(plan.light.bulb, body_of(opened))

    def _launch(self, shoot: Shoot, plan: Plan, *, resumed: bool) -> None:
        run = self._runs[shoot.id] = self._make_run(shoot, plan, resumed=resumed)
        self._tasks[shoot.id] = asyncio.create_task(self._run(run))

    def _make_run(self, shoot: Shoot, plan: Plan, *, resumed: bool) -> ShootRun:
        book = Book(shoot.id, self.store, self.hub)
        camera = self.links[0]

        def changed() -> None:
            self.hub.publish("shoot", run.document())
            asyncio.get_running_loop().call_soon(self._publish_now)

        turn = self._turns[camera.id]
        run = ShootRun(
            shoot,
            plan,
            camera,
            book,
            self.clock,
            self.directory,
            changed,
            turn,
            resumed=resumed,
            alarm=self._chores.wake,
        )
        return run

    async def _run(self, run: ShootRun) -> None:
        try:
            wait_s = 1.0
            while run.shoot.state not in ENDED:
                try:
                    await run.run()
                except Exception as error:  # a fault of ours must not end a night: it is taken up again from its log
                    log.exception("shoot %s is taken up again", run.shoot.id)
                    await self._say_broken(run, error)
                    await asyncio.sleep(wait_s)
                    wait_s = min(2 * wait_s, 30.0)
                    run = self._runs[run.shoot.id] = self._make_run(run.shoot, run.plan, resumed=True)
        finally:
            self._runs.pop(run.shoot.id, None)
            self._tasks.pop(run.shoot.id, None)
            self._shown = self._shown if self._runs else run

    async def _say_broken(self, run: ShootRun, error: Exception) -> None:
        text = f"the shoot broke off and is taken up again: {error or type(error).__name__}"
        try:
            await run.book.note("engine-trouble", text, self.clock.utc())
        except DuskhandError as further:
            log.error("shoot %s: nor could that be logged: %s", run.shoot.id, further)

    def _open_run(self, shoot: str) -> ShootRun:
        run = self._runs.get(shoot)
        if run is None:
            raise Conflict(
                "shoot-ended",
                "this shoot has ended",
                where=f"shoot {shoot}",
                remedy="Start its plan again for a new one",
            )
        return run

    async def hold(self, shoot: str) -> Shoot:
        """No more releases until `resume`. Raises NotFound, Conflict."""
        await self.store.shoot(shoot)
        run = self._open_run(shoot)
        await run.hold()
        return run.document()

    async def resume(self, shoot: str) -> Shoot:
        """Go on after a hold. Raises NotFound, Conflict."""
        await self.store.shoot(shoot)
        run = self._open_run(shoot)
        await run.resume()
        return run.document()

    async def stop(self, shoot: str) -> Shoot:
        """End a shoot; frames on their way are taken care of. Raises NotFound, Conflict."""
        await self.store.shoot(shoot)
        run = self._open_run(shoot)
        await run.stop()
        return run.document()

    async def wait_for_end(self, shoot: str, seconds: float) -> None:
        """Return once a shoot has ended and its last frames are seen to, or after `seconds` of the wall's clock."""
        if (task := self._tasks.get(shoot)) is not None:
            await asyncio.wait({task}, timeout=seconds)

    async def change_pace(self, shoot: str, to_s: float, over_s: float) -> Shoot:
        """Change the interval to `to_s` over `over_s` seconds, from the one in force.

        Raises BadInput, NotFound, Conflict.
        """
        await self.store.shoot(shoot)
        run = self._open_run(shoot)
        now = self.clock.utc()
        in_force = run.slots.progress.interval_s if run.slots.progress is not None else None
        change = PaceChange(from_s=in_force or to_s, to_s=to_s, start_utc=now, over_s=over_s)
        adjust = replace(run.adjust, pace=change)
        check_adjust(run.plan, adjust)
        await run.change(adjust, told(change, run.plan.pace.max_change))
        return run.document()

    async def change_light(
        self,
        shoot: str,
        bias_ev: float | None = None,
        shutter_s: tuple[float, float] | None = None,
        iso: tuple[float, float] | None = None,
        aperture: tuple[float, float] | None = None,
    ) -> Shoot:
        """Change bias or limits of the exposure; what is None stays. Raises BadInput, NotFound, Conflict."""
        await self.store.shoot(shoot)
        run = self._open_run(shoot)
        wanted = {"bias_ev": bias_ev, "shutter_s": shutter_s, "iso": iso, "aperture": aperture}
        changes = {name: value for name, value in wanted.items() if value is not None}
        if not changes:
            raise BadInput(
                "nothing-to-change", "no change was named", "body", "Give bias_ev, shutter_s, iso or aperture"
            )
        adjust = replace(run.adjust, **changes)  # type: ignore[arg-type]
        check_adjust(run.plan, adjust)
        await run.change(adjust, "light: " + ", ".join(f"{name} {value}" for name, value in changes.items()))
        return run.document()

    # ---- what is

    def _current(self) -> ShootRun | None:
        running = sorted(self._runs.values(), key=lambda run: run.shoot.state is ShootState.WAITING)
        return running[0] if running else self._shown

    async def now(self) -> Now:
        """Everything that the phone's first screen shows."""
        return self._now()

    def _now(self) -> Now:
        run = self._current()
        cameras = self.cameras()
        facts = RigFacts(
            utc=self.clock.utc(),
            rate=self.clock.rate,
            event_id=self.hub.last_id,
            camera=cameras[0] if cameras else None,
            free_bytes=self._disk.free,
            fetching_paused=self._disk.paused,
            bytes_per_frame=run.reports.bytes_per_frame if run else None,
            last_missed=run.book.last_missed if run else None,
            pictured=run.reports.pictured if run else self._past_frame,
            past=self._past,
        )
        return describe(facts, run, self._forecasts)

    def cameras(self) -> list[CameraNow]:
        return [self._camera_now(link) for link in self.links]

    def body(self) -> Body | None:
        """What the first camera can set; None where it is not there."""
        opened = self.links[0].opened if self.links else None
        return None if opened is None else body_of(opened)

    def _camera_now(self, link: CameraLink) -> CameraNow:
        return camera_now(link, self._status.get(link.id))

    def healthz(self) -> dict[str, Any]:
        """`ok` while no shoot has failed, slots pass as they are due, and the log can be written."""
        runs = list(self._runs.values())
        stuck = [run.shoot.id for run in runs if run.slots.overdue_s() > STUCK_S]
        unlogged = [run.shoot.id for run in runs if run.book.trouble is not None]
        last = [self._shown] if self._shown is not None and not runs else []
        failed = [run.shoot.id for run in [*runs, *last] if run.shoot.state is ShootState.FAILED]
        cameras = {link.id: link.opened is not None for link in self.links}
        ok = not (stuck or unlogged or failed)
        return {"ok": ok, "cameras": cameras, "stuck": stuck, "unlogged": unlogged, "failed": failed}

    def preview_path(self, frame: Frame) -> Path | None:
        """The frame's small picture, or None."""
        path = self.directory / preview_path(frame.shoot, frame.seq)
        return path if frame.preview and path.is_file() else None

    # ---- cameras and chores

    async def _take(self, link: CameraLink, report: Report) -> None:
        if isinstance(report, Opened | Status):
            self._status[link.id] = report
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
                    self.bodies.heard(link.id, status, self.clock.utc(), self.clock.rate)
                except CameraError as error:
                    log.info("%s: status not read: %s", link.id, error)
        await self.bodies.keep(self.store)

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
