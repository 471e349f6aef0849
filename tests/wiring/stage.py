"""The engine on a virtual clock, wired to mock pins: a model camera, no files, and every switching with its time."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import Any

from gpiozero import Device

from controller.decide.plan import ByPulse, Plan
from controller.decide.wiring import Motion
from controller.decide.wiring.motion import with_motion
from controller.engine.book import Book
from controller.engine.moving import Moving
from controller.engine.pulsed import Pulsed
from controller.engine.run import ShootRun
from controller.engine.starting import first_window
from controller.engine.turn import Turn
from controller.rehearsal import CameraModel
from controller.rehearsal.camera import ModelCamera
from controller.rehearsal.log import AtOnce, Deaf, MemoryLog
from controller.rehearsal.loop import VirtualLoop
from controller.rehearsal.metering import ModelMetering
from controller.rehearsal.sky import ModelScene, flat
from controller.rehearsal.weather import clear
from controller.wiring.pins import Output
from controller.words.clock import VirtualClock, sleep_until
from controller.words.documents import Frame, Note, Shoot, ShootState
from controller.words.errors import WiringError
from tests.rehearsal import EXACT, NOW


class Line(Output):
    """An output that notes when the mock pin was switched, by the stage's clock; `broken` says which way it fails."""

    def __init__(self, clock: VirtualClock, pin: int) -> None:
        super().__init__(pin, "high", "motion")
        self._clock = clock
        self.edges: list[tuple[float, int]] = []
        self.broken: Callable[[bool, float], bool] = lambda on, now: False

    def switch(self, on: bool) -> None:
        if self.broken(on, self._clock.mono()):
            raise WiringError("pin-failed", f"pin {self.pin} cannot be used: broken by the test", "rig.toml, [motion]")
        super().switch(on)
        self.edges.append((self._clock.mono(), Device.pin_factory.pin(self.pin).state))

    @property
    def pulses(self) -> list[tuple[float, float]]:
        """From when to when the pin was high."""
        ups = [at for at, state in self.edges if state]
        return [(up, next(at for at, state in self.edges if not state and at > up)) for up in ups]


class Stage:
    """One run. `pulses` are moments after NOW at which the trigger is pulled."""

    def __init__(
        self,
        plan: Plan,
        motion: Motion | None = None,
        *,
        settings: CameraModel = EXACT,
        pulses: tuple[float, ...] = (),
        at: dict[float, Callable[[Stage], Any]] | None = None,
    ) -> None:
        self.clock = VirtualClock(NOW)
        self.rows: list[Frame] = []
        self.notes: list[Note] = []
        self.failures: list[WiringError | None] = []
        self.camera = ModelCamera(self.clock, ModelScene(plan, clear(), flat(0.0)), settings, None, 0)
        self.line = Line(self.clock, motion.pin if motion else 17)
        self._motion, self._pulses, self._at = motion, pulses, at or {}
        self.plan = with_motion(plan, motion)
        self.run: ShootRun

    def play(self) -> Stage:
        loop = VirtualLoop(self.clock)  # type: ignore[abstract]  # what is left out touches the machine
        loop.run_until_complete(self._play())
        return self

    async def _play(self) -> None:
        plan, clock = self.plan, self.clock
        window = first_window(plan, NOW)
        shoot = Shoot(
            id="evening",
            plan_name=plan.name,
            plan=plan.document(),
            state=ShootState.WAITING,
            created_utc=NOW,
            start_utc=window.start_utc,
            stop_utc=window.stop_utc,
        )
        log, turn = MemoryLog(shoot, self.rows.append), Turn()
        book = Book(shoot.id, log, Deaf(), AtOnce())
        run = self.run = ShootRun(
            shoot,
            plan,
            self.camera,
            book,
            clock,
            Path("stage"),
            lambda: None,
            turn,
            metering=lambda run: ModelMetering(self.camera),
        )
        if self._motion is not None:
            run.moving = Moving(self._motion, clock, self.failures.append, run.waker.wake, self.line)
            run.moving.open()
        if isinstance(plan.pace, ByPulse):
            run.pulsed = Pulsed(run, plan.pace)
            for after_s in self._pulses:
                clock.call_at(after_s, lambda at=after_s: run.pulsed and run.pulsed.take(at))  # type: ignore[misc]
        for after_s, what in self._at.items():
            clock.call_at(after_s, lambda what=what: self._do(what))  # type: ignore[misc]
        self.camera.listen(run.reports.take, lambda: turn.owner is run)
        await self.camera.start()
        await run.run()
        await self.camera.stop()
        await sleep_until(clock, clock.mono() + 10.0)  # for the last move
        if run.moving is not None:
            run.moving.close()
        log.close()
        self.notes = log.heard

    def _do(self, what: Callable[[Stage], Any]) -> None:
        came = what(self)
        if asyncio.iscoroutine(came):
            self._task = asyncio.get_running_loop().create_task(came)
