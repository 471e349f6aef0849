"""The same plan by the same engine, on a clock that needs no waiting, before a model sky and with a model camera."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from controller.decide.exposure import Body
from controller.decide.plan import Plan
from controller.decide.schedule import Window
from controller.engine.book import Book
from controller.engine.run import CHECK_LEAD_S, ShootRun
from controller.engine.starting import first_window, shoot_id
from controller.engine.turn import Turn
from controller.rehearsal.camera import CameraModel, ModelCamera
from controller.rehearsal.log import AtOnce, Deaf, MemoryLog
from controller.rehearsal.loop import VirtualLoop
from controller.rehearsal.metering import ModelMetering
from controller.rehearsal.sky import ModelScene, View, flat
from controller.rehearsal.summary import Tally
from controller.rehearsal.weather import Weather, clear
from controller.words.clock import VirtualClock
from controller.words.documents import Frame, Note, Shoot, ShootState
from controller.words.rehearsal import RehearsalSummary

OPEN_S = 86_400.0
"""How much of a window without an end is rehearsed."""

OnFrame = Callable[[Frame], None]


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What came of it. The frames themselves went to `on_frame`."""

    summary: RehearsalSummary
    notes: list[Note]


def rehearse_now(
    plan: Plan,
    *,
    now_utc: float,
    weather: Weather | None = None,
    settings: CameraModel | None = None,
    seed: int = 0,
    body: Body | None = None,
    windows: int = 1,
    view: View | None = None,
    on_frame: OnFrame | None = None,
) -> Rehearsal:
    """Rehearse `plan` as if it were started at `now_utc`, POSIX seconds; returns when it is over.

    `windows` of a repeated plan are rehearsed, of one that lasts until it is stopped a day. `view` is what the
    camera's view has above the sky model, by default nothing. `on_frame` gets each row of the log in the order of
    slots, with the columns of a real shoot. The same arguments give the same rehearsal. Raises BadInput where the
    plan has no window.
    """
    stage = _Stage(
        plan,
        now_utc,
        weather or clear(),
        settings or CameraModel(),
        seed,
        body,
        windows,
        view or flat(0.0),
        on_frame or (lambda frame: None),
    )
    loop = VirtualLoop(stage.clock)  # type: ignore[abstract]  # what is left out touches the machine
    return loop.run_until_complete(stage.play())


class _Stage:
    """A rig of models for one run of the engine."""

    def __init__(
        self,
        plan: Plan,
        now_utc: float,
        weather: Weather,
        settings: CameraModel,
        seed: int,
        body: Body | None,
        windows: int,
        view: View,
        on_frame: OnFrame,
    ) -> None:
        first = first_window(plan, now_utc)
        self._plan, self._windows = plan, windows
        # What the rig waits through before its first look at the camera is left out.
        self.clock = VirtualClock(max(now_utc, first.start_utc - CHECK_LEAD_S - 1.0))
        self._camera = ModelCamera(self.clock, ModelScene(plan, weather, view), settings, body, seed)
        self._tally = Tally(plan, body, self._camera.woken, settings.bytes_per_frame)
        self._on_frame = on_frame
        self._shoot = Shoot(
            id=shoot_id(plan.name, first.start_utc, plan.site.zone, ()),
            plan_name=plan.name,
            plan=plan.document(),
            state=ShootState.WAITING,
            created_utc=now_utc,
            start_utc=first.start_utc,
            stop_utc=first.stop_utc,
        )
        self._turn = Turn()
        self._begun: list[Window] = []
        self._tasks: set[asyncio.Task[None]] = set()
        self._run: ShootRun | None = None

    async def play(self) -> Rehearsal:
        log = MemoryLog(self._shoot, self._take)
        turn = self._turn
        run = self._run = ShootRun(
            self._shoot,
            self._plan,
            self._camera,
            Book(self._shoot.id, log, Deaf(), AtOnce()),
            self.clock,
            Path("rehearsal"),
            self._changed,
            turn,
            metering=lambda run: ModelMetering(self._camera),
        )

        self._camera.listen(run.reports.take, lambda: turn.owner is run)
        await self._camera.start()
        await run.run()
        await self._camera.stop()
        log.close()
        return Rehearsal(self._tally.summary(len(self._begun)), log.heard)

    def _take(self, frame: Frame) -> None:
        try:
            self._tally.take(frame)
            self._on_frame(frame)
        except Exception as error:  # noqa: BLE001  raised here the engine would give up the slot and go on
            asyncio.get_running_loop().call_exception_handler({"exception": error})

    def _changed(self) -> None:
        """The run has news: a window that is not to be rehearsed any more ends it."""
        run = self._run
        if run is None or run.window is None or run.stopping or (self._begun and self._begun[-1] is run.window):
            return
        window = run.window
        if self._begun and (window == self._begun[-1] or self._turn.owner is run):
            self._begun[-1] = window  # chosen again, or moved while it is under way
            return
        if len(self._begun) >= self._windows:
            self._end("as many windows as were asked for are rehearsed")
        else:
            self._begun.append(window)
            if window.stop_utc is None:
                end_mono = self.clock.mono() + max(0.0, window.start_utc - self.clock.utc()) + OPEN_S
                if window.frames is None:
                    self.clock.call_at(end_mono, lambda: self._end("a day of a window without an end is rehearsed"))
                else:
                    self.clock.call_at(end_mono, partial(self._look, window, self._camera.taken))

    def _look(self, window: Window, taken: int) -> None:
        """Frames that are counted come to no end where none can be taken."""
        if self._camera.taken == taken and self._begun[-1] == window:
            self._end("no frame was taken for a day")
        elif self._begun[-1] == window:
            self.clock.call_at(self.clock.mono() + OPEN_S, partial(self._look, window, self._camera.taken))

    def _end(self, cause: str) -> None:
        if self._run is not None and not self._run.stopping:
            task = asyncio.get_running_loop().create_task(self._run.stop(cause))
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)
