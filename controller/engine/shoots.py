"""The shoots of a rig: started, taken up again, run on all their cameras, and changed by people."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

from controller.camera.link import CameraLink
from controller.decide.changes import OWN_LIGHT, OWN_PACE, lit, lit_told, own_light, own_pace, paced
from controller.decide.effect import Standing
from controller.decide.exposure import check_bulb
from controller.decide.pace import told
from controller.decide.plan import Plan, plan_from
from controller.decide.step import Adjust, check_adjust
from controller.engine.bodies import body_of
from controller.engine.book import Book
from controller.engine.chores import Chores
from controller.engine.company import Company
from controller.engine.hub import Hub
from controller.engine.rig_time import RigTime
from controller.engine.run import ShootRun
from controller.engine.standing import standing
from controller.engine.starting import cameras_of, first_window, require_clock, require_room, shoot_id
from controller.engine.turn import Turn
from controller.engine.wires import Wires
from controller.store import Store, content_hash
from controller.words.clock import Clock
from controller.words.documents import ENDED, Shoot, ShootState
from controller.words.errors import BadInput, Conflict, DuskhandError

log = logging.getLogger(__name__)

Own = Literal["plan"]
"""In the place of a change: back to the plan's own."""


class Shoots:
    """`runs` holds those that have not ended, by shoot: of several cameras the first one's run. `last` ended last.

    `links` and `turns` are the rig's own; `tell` is called when what the phone shows has changed.
    """

    def __init__(
        self,
        store: Store,
        links: list[CameraLink],
        turns: dict[str, Turn],
        clock: Clock,
        directory: Path,
        hub: Hub,
        chores: Chores,
        tell: Callable[[], None],
        wires: Wires,
        time: RigTime,
    ) -> None:
        self._store, self._links, self._turns, self._clock = store, links, turns, clock
        self._directory, self._hub, self._chores, self._tell = directory, hub, chores, tell
        self._wires, self._time = wires, time
        self.runs: dict[str, ShootRun] = {}
        self.last: ShootRun | None = None
        self._tasks: dict[str, asyncio.Task[None]] = {}
        self._starting = asyncio.Lock()

    # ---- beginning and ending

    async def take_up(self) -> None:
        """Go on with every shoot that has not ended."""
        for shoot in await self._store.open_shoots():
            try:
                plan = plan_from(shoot.plan)
            except BadInput as error:  # written by another version; the other shoots go on
                log.error("shoot %s cannot be taken up: %s", shoot.id, error)
                await self._store.change_shoot(shoot.id, state=ShootState.FAILED, cause=str(error))
            else:
                self._launch(shoot, plan, resumed=True)

    async def start(self, plan: Plan, keep: Callable[[Plan], Awaitable[object]]) -> Shoot:
        """Start or schedule a shoot; `keep` keeps its plan. Raises BadInput, Conflict."""
        async with self._starting:
            now = self._clock.utc()
            require_clock(plan, self._time.now())
            window = first_window(plan, now)
            self._wires.require(plan)
            used = cameras_of(plan, [link.id for link in self._links], strict=True)
            rivals = [run for run in self.runs.values() if not used.isdisjoint(run.company.cameras)]
            await asyncio.to_thread(require_room, rivals, plan, now)
            for link in self._links:
                if link.id in used and (opened := link.opened) is not None:
                    check_bulb(plan.light.bulb, body_of(opened))
            shoot = Shoot(
                id=shoot_id(plan.name, now, plan.site.zone, {shoot.id for shoot in await self._store.shoots()}),
                plan_name=plan.name,
                plan=plan.document(),
                plan_sha256=content_hash(plan.document()),
                state=ShootState.WAITING,
                created_utc=now,
                start_utc=window.start_utc,
                stop_utc=window.stop_utc,
            )
            await self._store.add_shoot(shoot)
            await keep(plan)
            self._launch(shoot, plan, resumed=False)
            return shoot

    def _launch(self, shoot: Shoot, plan: Plan, *, resumed: bool) -> None:
        used = cameras_of(plan, [link.id for link in self._links], strict=False)
        company = Company(lead=plan.cameras.lead if plan.cameras else None)
        links = [link for link in self._links if link.id in used]
        many = len(links) > 1
        runs = [
            self._make(shoot, plan, link, company, place=place if many else None, resumed=resumed)
            for place, link in enumerate(links)
        ]
        self.runs[shoot.id] = runs[0]
        self._tasks[shoot.id] = asyncio.create_task(self._run_all(shoot.id, runs))

    def _make(
        self, shoot: Shoot, plan: Plan, link: CameraLink, company: Company, *, place: int | None, resumed: bool
    ) -> ShootRun:
        def changed() -> None:
            self._hub.publish("shoot", company.first.document())
            asyncio.get_running_loop().call_soon(self._tell)

        run = ShootRun(
            shoot,
            self._wires.plan(plan),
            link,
            Book(shoot.id, self._store, self._hub, camera=link.id, place=place),
            self._clock,
            self._directory,
            changed,
            self._turns[link.id],
            resumed=resumed,
            alarm=self._chores.wake,
            company=company,
            time=self._time,
        )
        self._wires.equip(run)
        return run

    async def _run_all(self, shoot: str, runs: list[ShootRun]) -> None:
        first, *others = (self._run(run, place if len(runs) > 1 else None) for place, run in enumerate(runs))
        tasks = [asyncio.create_task(other, name=f"shoot {shoot} beside") for other in others]
        try:
            await first
            await asyncio.gather(*tasks)
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            ended = self.runs.pop(shoot)
            del self._tasks[shoot]
            self.last = self.last if self.runs else ended

    async def _run(self, run: ShootRun, place: int | None) -> None:
        link = next(link for link in self._links if link.id == run.camera.id)
        wait_s = 1.0
        while run.shoot.state not in ENDED:
            try:
                await run.run()
            except Exception as error:  # a fault of ours must not end a night: it is taken up again from its log
                log.exception("shoot %s is taken up again", run.shoot.id)
                await self._say_broken(run, error)
                await asyncio.sleep(wait_s)
                wait_s = min(2 * wait_s, 30.0)
                run = self._make(run.shoot, run.plan, link, run.company, place=place, resumed=True)
                if not place:
                    self.runs[run.shoot.id] = run
        run.company.over(run.camera.id)

    async def _say_broken(self, run: ShootRun, error: Exception) -> None:
        text = f"the shoot broke off and is taken up again: {error or type(error).__name__}"
        try:
            await run.book.note("engine-trouble", text, self._clock.utc())
        except DuskhandError as further:
            log.error("shoot %s: nor could that be logged: %s", run.shoot.id, further)

    async def wait_for_end(self, shoot: str, seconds: float) -> None:
        """Return once a shoot has ended and its last frames are seen to, or after `seconds` of the wall's clock."""
        if (task := self._tasks.get(shoot)) is not None:
            await asyncio.wait({task}, timeout=seconds)

    async def close(self) -> None:
        """End all; those that run go on when the rig is started again."""
        tasks = list(self._tasks.values())
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    # ---- what is asked

    @property
    def all_runs(self) -> list[ShootRun]:
        """Those of every camera of every shoot that has not ended."""
        return [run for first in self.runs.values() for run in first.company.runs]

    def current(self) -> ShootRun | None:
        """What the phone shows: a shoot under way, else one that waits, else the last."""
        running = sorted(self.runs.values(), key=lambda run: run.shoot.state is ShootState.WAITING)
        return running[0] if running else self.last

    async def _open(self, shoot: str) -> ShootRun:
        await self._store.shoot(shoot)
        run = self.runs.get(shoot)
        if run is None or run.shoot.state in ENDED:  # it is put away in a moment
            what, remedy = "this shoot has ended", "Start its plan again for a new one"
            raise Conflict("shoot-ended", what, where=f"shoot {shoot}", remedy=remedy)
        return run

    async def hold(self, shoot: str, for_s: float | None = None) -> Shoot:
        """No more releases until `resume`, or for so many seconds. Raises NotFound, Conflict."""
        run = await self._open(shoot)
        await run.hold(for_s)
        await self._others(run, lambda other: other.hold(for_s))
        run.company.forget()
        return run.document()

    async def resume(self, shoot: str) -> Shoot:
        """Go on after a hold. Raises NotFound, Conflict."""
        run = await self._open(shoot)
        await run.resume()
        await self._others(run, ShootRun.resume)
        return run.document()

    async def stop(self, shoot: str) -> Shoot:
        """End a shoot; frames on their way are taken care of. Raises NotFound, Conflict."""
        run = await self._open(shoot)
        await run.stop()
        await self._others(run, ShootRun.stop)
        return run.document()

    async def _others(self, run: ShootRun, what: Callable[[ShootRun], Awaitable[None]]) -> None:
        """The same for the cameras beside the first."""
        for other in run.company.runs:
            if other is not run and other.shoot.state not in ENDED:
                await what(other)

    async def change_pace(self, shoot: str, to_s: float, over_s: float) -> Shoot:
        """Change the interval to `to_s` over `over_s` seconds, from the one in force.

        Raises BadInput, NotFound, Conflict.
        """
        run = await self._open(shoot)
        change = paced(run.slots.progress, to_s, over_s, self._clock.utc())
        return await self._change(run, replace(run.adjust, pace=change), told(change, run.plan.pace.max_change))

    async def change_light(
        self,
        shoot: str,
        bias_ev: float | None = None,
        shutter_s: tuple[float, float] | None = None,
        iso: tuple[float, float] | None = None,
        aperture: tuple[float, float] | None = None,
    ) -> Shoot:
        """Change bias or limits of the exposure; what is None stays. Raises BadInput, NotFound, Conflict."""
        run = await self._open(shoot)
        wanted: dict[str, Any] = {"bias_ev": bias_ev, "shutter_s": shutter_s, "iso": iso, "aperture": aperture}
        adjust, changes = lit(run.adjust, wanted)
        return await self._change(run, adjust, lit_told(changes))

    async def own_pace(self, shoot: str) -> Shoot:
        """Back to the plan's own pace. Raises BadInput, NotFound, Conflict."""
        run = await self._open(shoot)
        return await self._change(run, own_pace(run.adjust), OWN_PACE)

    async def own_light(self, shoot: str) -> Shoot:
        """Back to the plan's own light. Raises BadInput, NotFound, Conflict."""
        run = await self._open(shoot)
        return await self._change(run, own_light(run.adjust), OWN_LIGHT)

    async def _change(self, run: ShootRun, adjust: Adjust, text: str) -> Shoot:
        check_adjust(run.plan, adjust)
        if adjust == run.adjust:  # a way back that is made already
            return run.document()
        await run.change(adjust, text)
        await self._others(run, lambda other: other.change(adjust, text))
        return run.document()

    async def looked_at(
        self, shoot: str, pace: tuple[float, float] | Own | None, light: dict[str, Any] | Own | None
    ) -> tuple[Standing, Adjust]:
        """A shoot as it stands, and what would be in force once its pace went `to_s` over `over_s` and `light` changed,
        or either went back to the plan's own.

        Nothing is changed. Raises as the calls that do it.
        """
        run = await self._open(shoot)
        adjust = run.adjust
        if pace == "plan":
            adjust = own_pace(adjust)
        elif pace is not None:
            adjust = replace(adjust, pace=paced(run.slots.progress, *pace, self._clock.utc()))
        if light == "plan":
            adjust = own_light(adjust)
        elif light is not None:
            adjust, _ = lit(adjust, light)
        check_adjust(run.plan, adjust)
        return standing(run), adjust
