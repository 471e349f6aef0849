"""The rig's wiring as rig.toml has it: what moves the camera, what triggers it, and the dew heater."""

from __future__ import annotations

import asyncio
import logging
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from controller.camera.contacts import Contacts, tell
from controller.decide.plan import ByPulse, Plan
from controller.decide.wiring import Wiring
from controller.decide.wiring.motion import with_motion
from controller.decide.wiring.pulses import Bounce
from controller.engine.chores import Chores
from controller.engine.hub import Hub
from controller.engine.moving import Moving
from controller.engine.noting import note_in
from controller.engine.pulsed import Pulsed
from controller.store import Store
from controller.wiring.document import NAME, wiring_in
from controller.wiring.heater import Heater
from controller.wiring.pins import Input, require_gpiozero
from controller.words.clock import Clock
from controller.words.documents import ENDED, HeaterNow
from controller.words.errors import Conflict, WiringError

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

_REOPEN_EVERY_S = 30.0
_NOTES_S = 2.0


class _Rig(Protocol):
    directory: Path
    clock: Clock
    store: Store
    hub: Hub


class Wires:
    """Of one rig. Nothing on a pin may keep a frame: what fails is told once, and tried again."""

    def __init__(self, rig: _Rig) -> None:
        self._rig = rig
        self.wiring = Wiring()
        self._runs: list[ShootRun] = []
        self._moving: Moving | None = None
        self._heater: Heater | None = None
        self._trigger: Input | None = None
        self._troubles: dict[str, WiringError] = {}
        self._tasks: set[asyncio.Task[None]] = set()

    # ---- life

    def read(self) -> None:
        """Take in the document. Raises BadInput (bad-wiring, no-gpio)."""
        self.wiring = wiring_in(self._rig.directory)
        if self.wiring.wants_pins:
            require_gpiozero(str(self._rig.directory / NAME))

    def open(self, chores: Chores) -> None:
        """Take the pins; those that cannot be taken are told of, and tried again."""
        wiring, clock = self.wiring, self._rig.clock
        if wiring.motion is not None:
            self._moving = Moving(wiring.motion, clock, lambda error: self._told("motion", error), self._wake)
            self._moving.open()
        if wiring.trigger is not None:
            bounce, loop = Bounce(wiring.trigger.bounce_s), asyncio.get_running_loop()

            def heard(wall_mono: float, active: bool) -> None:
                loop.call_soon_threadsafe(self._edge, bounce, wall_mono, active)

            self._trigger = Input(wiring.trigger, heard)
            self._open_trigger()
            chores.every(_REOPEN_EVERY_S, "trigger input", self._look_at_trigger)
        self._tell_contacts()
        if wiring.dew_heater is not None:
            self._heater = Heater(wiring.dew_heater, self._note)
            self._spawn(self._heater.look())
            chores.every(wiring.dew_heater.every_s, "dew heater", self._heater.look)

    def _tell_contacts(self) -> None:
        """Each camera's process learns of its release contacts when it starts."""
        rule, cameras = self.wiring.wired_release, self._rig.directory / "cameras"
        contacts = None
        if rule is not None:
            high, first = rule.active == "high", rule.use == "first"
            contacts = Contacts(rule.shutter_pin, rule.focus_pin, high, first, rule.lead_s, rule.hold_s)
        names = {path.name for path in cameras.glob("camera-*")} | ({rule.camera} if rule else set())
        try:
            for name in names:
                tell(cameras / name, contacts if rule and rule.camera == name else None)
        except OSError as error:
            what = f"the camera's process cannot be told of its contacts: {error.strerror or error}"
            where, remedy = f"{NAME}, [wired_release]", "Look at the rig's disk, then start the service again"
            self._told("wired_release", WiringError("pin-failed", what, where, remedy))

    async def close(self) -> None:
        """Everything is off, and the pins are let go."""
        if self._moving is not None:
            self._moving.close()
        if self._trigger is not None:
            self._trigger.close()
        if self._heater is not None:
            self._heater.close()
        if self._tasks:  # notes on their way; a sensor is not waited for
            await asyncio.wait(self._tasks, timeout=_NOTES_S)
        for task in [*self._tasks]:
            task.cancel()

    # ---- what shoots ask

    def plan(self, plan: Plan) -> Plan:
        """The plan as this rig can shoot it: its gaps hold a move."""
        return with_motion(plan, self.wiring.motion)

    def require(self, plan: Plan) -> None:
        """Refuse a plan that waits for pulses on a rig without an input for them. Raises Conflict (no-trigger)."""
        if isinstance(plan.pace, ByPulse) and self.wiring.trigger is None:
            what = "the plan waits for pulses, and this rig has no input for them"
            raise Conflict("no-trigger", what, "[pace] kind", f"Add [trigger] to {NAME}, or choose another pace")

    def equip(self, run: ShootRun) -> None:
        """Give a run what it needs of the wiring."""
        run.moving = self._moving
        if isinstance(run.plan.pace, ByPulse):
            run.pulsed = Pulsed(run, run.plan.pace)
            if self._trigger is None:
                run.pulsed.said = f"no pulse can come: {NAME} has no [trigger]"
        here = (run.shoot.id, run.camera.id)  # where an earlier run broke off this one takes its place
        others = [r for r in self._runs if r.shoot.state not in ENDED and (r.shoot.id, r.camera.id) != here]
        self._runs = [*others, run]
        if run.company.first is run:  # what is wrong already stands in this shoot's log too
            for text in self.troubles():
                self._spawn(run.book.note("wiring-trouble", text, self._rig.clock.utc()))

    # ---- what is

    def heater(self) -> HeaterNow | None:
        return None if self._heater is None else self._heater.now()

    def troubles(self) -> list[str]:
        """What does not work, in words."""
        heater = self.heater()
        told = [str(error) for error in self._troubles.values()]
        told += [heater.trouble] if heater is not None and heater.trouble else []
        return [self._with_path(text) for text in told]

    def _with_path(self, text: str) -> str:
        """What names the document names its place too: a service has its directory from elsewhere."""
        return text.replace(f"{NAME}, [", f"{self._rig.directory / NAME}, [")

    def health(self) -> dict[str, object]:
        """What `healthz` says of it, where the rig has any."""
        if not self.wiring.wants_pins:
            return {}
        heater = self.heater()
        return {"wiring": self.troubles(), "heater": None if heater is None else heater.model_dump(mode="json")}

    # ---- what happens

    def _edge(self, bounce: Bounce, wall_mono: float, active: bool) -> None:
        if bounce.is_pulse(wall_mono, active):
            at = self._rig.clock.from_wall(wall_mono)
            for run in self._runs:
                if run.pulsed is not None and run.shoot.state not in ENDED:
                    run.pulsed.take(at)

    def _wake(self) -> None:
        for run in self._runs:
            run.waker.wake()

    async def _look_at_trigger(self) -> None:
        self._open_trigger()

    def _open_trigger(self) -> None:
        assert self._trigger is not None
        try:
            self._trigger.open()
        except WiringError as error:
            self._told("trigger", error)
        else:
            self._told("trigger", None)

    def _told(self, part: str, error: WiringError | None) -> None:
        """What became of a pin; noted where that is news."""
        before = self._troubles.get(part)
        if error is not None:
            self._troubles[part] = error
            if before is None:
                self._spawn(self._note("wiring-trouble", str(error)))
        elif before is not None:
            del self._troubles[part]
            self._spawn(self._note("wiring-again", f"[{part}] works again"))

    def _spawn(self, work: object) -> None:
        task: asyncio.Task[None] = asyncio.get_running_loop().create_task(work)  # type: ignore[arg-type]
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _note(self, kind: str, text: str) -> None:
        """Into the log of every shoot that is open, or into the rig's own."""
        shooting = (run for run in self._runs if run.shoot.state not in ENDED and run.company.first is run)
        books = [run.book for run in shooting]
        await note_in(self._rig, books, kind, self._with_path(text), level=logging.WARNING)
