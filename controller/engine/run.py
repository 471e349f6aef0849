"""One run of a plan: its states, its windows, and what people ask of it."""

from __future__ import annotations

import asyncio
import logging
import math
from collections import deque
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from controller.camera.messages import Opened
from controller.camera.protocol import Camera
from controller.decide.exposure import Body
from controller.decide.plan import Plan
from controller.decide.schedule import Window
from controller.decide.step import Adjust, Moment, Slot
from controller.decide.turnover import (
    SAME_S,
    WRONG_CLOCK_S,
    begins_now,
    begun_before,
    has_several,
    rebased,
    turnover,
)
from controller.engine.bodies import body_of
from controller.engine.book import Book
from controller.engine.company import Company
from controller.engine.holding import LOOK_AGAIN_S, Holding
from controller.engine.metering import Meter, Metering
from controller.engine.moving import Moving
from controller.engine.pulsed import Pulsed
from controller.engine.recovery import Recovery
from controller.engine.reports import Reports
from controller.engine.rig_time import RigTime
from controller.engine.slots import Slots
from controller.engine.transitions import require
from controller.engine.turn import Turn
from controller.engine.waker import Waker
from controller.words.clock import Clock, Steps
from controller.words.documents import ENDED, Shoot, ShootState
from controller.words.errors import BadInput
from controller.words.phrases import length as said_s

log = logging.getLogger(__name__)

CHECK_LEAD_S, CHECK_LEAD_WALL_S = 120.0, 8.0
"""Plan and wall seconds before a window in which the camera is looked at: for test frames there is time after it."""

DRAIN_S = 30.0
"""Wall seconds without any news after which a finished shoot waits no longer for its last files. Nothing is heard while
a shutter is open, nor while the body takes a dark frame of the same length: those seconds come on top."""


Alarm = Callable[[str, float | None, Callable[[], object]], None]
"""Sets, or takes back, the call that wakes a shoot by name in so many wall seconds: see `Chores.wake`."""


def no_alarm(name: str, in_s: float | None, wake: Callable[[], object]) -> None:
    """For a clock that needs no waiting: looking again is enough."""


class ShootRun:
    """Runs one shoot on one camera until it has ended."""

    def __init__(
        self,
        shoot: Shoot,
        plan: Plan,
        camera: Camera,
        book: Book,
        clock: Clock,
        directory: Path,
        changed: Callable[[], None],
        turn: Turn,
        *,
        resumed: bool = False,
        metering: Callable[[ShootRun], Meter] = Metering,
        alarm: Alarm = no_alarm,
        company: Company | None = None,
        time: RigTime | None = None,
    ) -> None:
        self.shoot, self.plan, self.camera, self.book, self.clock = shoot, plan, camera, book, clock
        self.directory = directory
        self.company = company or Company()
        self.company.join(self)
        self.adjust = Adjust.from_document(shoot.adjust)
        self.window: Window | None = None
        self.waker, self.resumed = Waker(clock), resumed
        self.reports = Reports(self, metering(self))
        self.recovery = Recovery(self)
        self.slots = Slots(self)
        self.changed = changed
        self._turn, self._alarm, self._time = turn, alarm, time
        self.clock_set_mono = -math.inf  # until then it was not known which window it was time for
        self._steps = Steps(clock)
        self._begun_utc: list[float] = []
        self._passed_utc: set[float] = set()
        self._stepped_s, self.stepped_mono = 0.0, -math.inf  # no slot was due before a step by the clock after it
        self.up_mono = clock.mono()
        self._last_opened: Opened | None = None
        self._body: Body | None = None  # what that one can set
        self.holding = Holding(self)
        self.moving: Moving | None = None  # as these two are wired to the rig
        self.pulsed: Pulsed | None = None
        self.stop_cause: str | None = None
        self.stop_event = asyncio.Event()

    # ---- controls

    @property
    def held(self) -> bool:
        """Nothing is released for now."""
        return self.holding.on

    async def hold(self, for_s: float | None = None) -> None:
        """No more releases until `resume`, or for so many plan seconds from now on; what was asked for last counts.

        Conflict where the shoot has ended.
        """
        await self.holding.hold(for_s)

    async def resume(self) -> None:
        """Go on after a hold. Conflict where the shoot has ended."""
        await self.holding.resume()

    async def stop(self, cause: str = "stopped by hand") -> None:
        """End the shoot; frames that are on their way are still taken care of. Conflict where it has ended."""
        require(self.shoot.id, self.shoot.state, ShootState.STOPPED)
        self.stop_cause = cause
        self.stop_event.set()
        await self.book.note("stopped", cause, self.clock.utc())
        await self.set_state(self.shoot.state, "stopping: the last frames are on their way")
        await self.slots.withdraw_order()

    async def change(self, adjust: Adjust, text: str) -> None:
        """Put changes of pace or light into force, from the next slot on."""
        require(self.shoot.id, self.shoot.state, self.shoot.state)
        self.adjust, before = adjust, self.adjust.document()
        self.shoot = self.shoot.model_copy(update={"adjust": adjust.document()})
        await self.book.save_shoot(adjust=self.shoot.adjust)
        await self.book.note("changed", text, self.clock.utc(), before=before)
        self.changed()
        self.waker.wake()

    # ---- the run

    async def run(self) -> None:
        """Shoot until the plan is done or somebody stops it."""
        try:
            if self.resumed:
                await self.book.note(
                    "rig-started", "the rig was started again and takes the shoot up", self.clock.utc()
                )
            await self.book.load()
            await self.holding.take_up()
            self.recovery.adopt()
            cause = await self._windows()
            if self.company.first is self:
                await self.company.others_over()
            if self.shoot.state not in ENDED:
                state = ShootState.DONE if self.stop_cause is None else ShootState.STOPPED
                await self.set_state(state, self.stop_cause or cause)
        finally:
            await self.reports.close()
            await self.book.close()

    async def _windows(self) -> str:
        cause = "no window of the plan is left"
        coming: deque[Window] = deque()
        self._begun_utc = []
        resumed = self.resumed and self.shoot.start_utc is not None
        in_hand = self._in_hand() if resumed else None
        if in_hand is not None:  # goes on, whatever the clock says after a restart
            coming.append(in_hand)
            self._begun_utc.append(in_hand.start_utc)
        elif resumed and has_several(self.plan):  # the window that was waited for comes first
            self._begun_utc.append((self.shoot.start_utc or 0.0) - 2 * SAME_S)
        while self.stop_cause is None:
            if not coming:
                set_anew = await self._wait_for_clock()
                if self.stop_cause is not None:
                    break
                created_utc = self.shoot.created_utc + (self._stepped_s if begins_now(self.plan) else 0.0)
                try:
                    found = turnover(self.plan, created_utc, self._begun_utc, self.clock.utc())
                except BadInput as error:  # a plan that has become impossible, or is by this clock
                    if await self._clock_may_be_wrong():
                        continue
                    await self.set_state(ShootState.FAILED, str(error))
                    return str(error)
                # Those that ended while the rig was off are gone through, so that their slots are logged as missed.
                coming.extend(found.passed if resumed and not set_anew else await self._passed_over(found.passed))
                coming.extend(filter(None, (found.window,)))
                if not coming and await self._clock_may_be_wrong():
                    continue
                if not coming:
                    break
            window = self.window = coming.popleft()
            resumed = resumed and (window is in_hand or bool(coming))
            await self.save(start_utc=window.start_utc, stop_utc=window.stop_utc)
            if window is not in_hand and not await self._wait_for(window):
                coming.clear()  # the clock was put forward or back
                continue
            self._begun_utc.append(window.start_utc)
            if await self._turn.taken(self):
                try:
                    cause = await self.slots.shoot(window)
                    await self._drain()
                finally:
                    self._turn.release()
            self.slots.progress = None
            self._begun_utc.append(self.window.start_utc)  # the same, but for a step of the clock
        if (self.book.frames or self.reports.fetching.behind) and await self._turn.taken(self):
            try:
                await self._drain()
            finally:
                self._turn.release()
        return cause

    def _in_hand(self) -> Window | None:
        """The window that an earlier start of the rig had begun, as it was written down then; None where it waited."""
        start_utc, last = self.shoot.start_utc, self.book.last
        if start_utc is None or self.shoot.state is ShootState.WAITING:
            return None
        shot = last is not None and last.due_utc >= start_utc - 1.0
        if self.held and not shot and start_utc - self._lead_s > self.clock.utc():
            return None  # held while it waited
        return begun_before(self.plan, self.shoot.created_utc, start_utc, self.shoot.stop_utc)

    @property
    def _lead_s(self) -> float:
        return max(CHECK_LEAD_S, CHECK_LEAD_WALL_S * self.clock.rate)

    async def _wait_for(self, window: Window) -> bool:
        """Return when it is time to look at the camera; False where the window must be chosen anew before that."""
        try:
            while self.stop_cause is None and (left := window.start_utc - self._lead_s - self.clock.utc()) > 0:
                if not self.held or await self.holding.over():
                    await self.set_state(ShootState.WAITING, None)
                self._alarm(self.shoot.id, left / self.clock.rate, self.waker.wake)
                await self.waker.until(self.holding.look_again(left))
                if await self.clock_stepped():
                    return False
            return not await self.clock_stepped()  # while the window was chosen: ten years later it is long over
        finally:
            self._alarm(self.shoot.id, None, self.waker.wake)

    async def clock_stepped(self) -> float:
        """By how much the wall's clock was put forward since the last look, seconds; noted where it was."""
        step_s = self._steps.look()
        if step_s:
            self._stepped_s += step_s
            self._begun_utc = rebased(self._begun_utc, step_s)
            self.stepped_mono = self.clock.mono()
            if self.held and self.shoot.held_until_utc is not None:
                await self.save(held_until_utc=self.shoot.held_until_utc + step_s)
            way = "forward" if step_s > 0 else "back"
            last = 0 if self.book.last is None else self.book.last.seq
            before = f"; the times of rows up to slot {last} are by the clock as it was" if last else ""
            text = f"the rig's clock was put {way} by {said_s(abs(step_s))}; the cadence goes on as it was{before}"
            await self.book.note("clock-step", text, self.clock.utc(), step_s=round(step_s, 3), last_seq=last)
        return step_s

    async def shift(self, window: Window) -> None:
        """The window under way stands elsewhere on the wall's clock."""
        self.window = window
        await self.save(start_utc=window.start_utc, stop_utc=window.stop_utc)

    async def _clock_may_be_wrong(self) -> bool:
        """Where the plan is over only by a clock that was put far forward meanwhile: wait until it is put again."""
        sure = (self._time is not None and self._time.sure) or (self._begun_utc and not has_several(self.plan))
        if self._stepped_s < WRONG_CLOCK_S or sure:
            return False
        ahead = said_s(self._stepped_s)
        cause = f"by the rig's clock, put forward by {ahead}, the plan is over. Set the clock right, or stop the shoot"
        await self.set_state(ShootState.HELD if self.held else ShootState.WAITING, cause)
        while self.stop_cause is None and not await self.clock_stepped():
            await self.waker.until(self.clock.mono() + LOOK_AGAIN_S * self.clock.rate)
        return self.stop_cause is None

    async def _wait_for_clock(self) -> bool:
        """No window is chosen while it is not known what time it is; what begins now needs no clock.

        True where the clock was put forward or back meanwhile.
        """
        stepped_mono = self.stepped_mono
        if self._time is None or begins_now(self.plan):
            return False
        while self.stop_cause is None and (why := self._time.unset()) is not None:
            await self.set_state(ShootState.HELD if self.held else ShootState.WAITING, why)
            await self.waker.until(self.clock.mono() + LOOK_AGAIN_S * self.clock.rate)
            await self.clock_stepped()
            self.clock_set_mono = self.clock.mono()
        return self.stepped_mono != stepped_mono

    async def _passed_over(self, passed: tuple[Window, ...]) -> tuple[Window, ...]:
        """Windows of which no slot is logged, since the clock came to stand behind them; noted, each once."""
        passed = tuple(window for window in passed if window.start_utc not in self._passed_utc)
        self._passed_utc.update(window.start_utc for window in passed)
        if passed:
            first, last = (datetime.fromtimestamp(w.start_utc, self.plan.site.zone) for w in (passed[0], passed[-1]))
            many = f"the window of {first:%Y-%m-%d %H:%M}"
            if len(passed) > 1:
                many = f"{len(passed)} windows, from {first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M},"
            text = f"{many} passed unshot: the rig's clock came to stand behind"
            await self.book.note("windows-passed", text, self.clock.utc(), windows=len(passed))
        return ()

    @property
    def pulse_over_mono(self) -> float:
        """Until when a motion rig is under way whose end nobody knows yet."""
        return -math.inf if self.moving is None else self.moving.over_at

    def released_at(self, slot: Slot, latest: float) -> float | None:
        """When a slot is released, the rig standing still; None where that would be after `latest`."""
        return slot.due_mono if self.moving is None else self.moving.ordered(self, slot, latest)

    def document(self) -> Shoot:
        """The shoot as it stands, with the counts of all its cameras."""
        fields: dict[str, object] = {"counts": self.company.counts()}
        if self.company.several and self.shoot.cause is None:
            fields["cause"] = self.company.trouble()
        return self.shoot.model_copy(update=fields)

    @property
    def stopping(self) -> bool:
        """No more frames will be released."""
        return self.stop_cause is not None

    def moment(self) -> Moment:
        return Moment(self.clock.utc(), self.clock.mono())

    def body(self) -> Body | None:
        """The camera's choices, true values; None while they are not known."""
        opened = self.camera.opened
        if opened is not None and opened is not self._last_opened:
            self._last_opened = opened
            self._body = body_of(opened)
        return self._body

    async def _drain(self) -> None:
        """See the last frames to the card and their copies to the rig."""
        self.slots.put_down()
        await self.reports.fetch_more()
        seen = -1
        while self.reports.waiting_for() and seen != self.reports.news:
            seen = self.reports.news
            exposing_s = max((frame.shutter_s or 0.0 for frame in self.book.open_frames()), default=0.0)
            until = self.clock.mono() + DRAIN_S * self.clock.rate + 2 * exposing_s
            while self.reports.waiting_for() and self.reports.news == seen and self.clock.mono() < until:
                await self.waker.until(until)
        await self.recovery.close()
        await self.reports.metering.learn_from_steps()

    # ---- state

    async def set_state(self, state: ShootState, cause: str | None, **more: object) -> None:
        """`more` are other fields of the shoot that change with it."""
        if state is self.shoot.state and cause == self.shoot.cause and not more:
            return
        require(self.shoot.id, self.shoot.state, state)
        fields: dict[str, object] = {"state": state, "cause": cause, **more}
        if state is ShootState.SHOOTING and self.shoot.started_utc is None:
            fields["started_utc"] = self.clock.utc()
        if state in ENDED:
            fields |= {"ended_utc": self.clock.utc(), "hold_s": None, "held_until_utc": None}
        log.info("shoot %s: %s%s", self.shoot.id, state, f" ({cause})" if cause else "")
        await self.save(**fields)

    async def save(self, **fields: object) -> None:
        self.shoot = self.shoot.model_copy(update=fields)
        await self.book.save_shoot(**fields)
        self.changed()
