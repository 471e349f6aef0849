"""Slot by slot through a window: decide, order, and take what comes of it. What decides is in `controller.decide`."""

from __future__ import annotations

import contextlib
import logging
import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from controller.camera.messages import Release
from controller.decide.beat import Beat
from controller.decide.exposure import Body, Triple
from controller.decide.follow import shifted
from controller.decide.schedule import Window
from controller.decide.step import (
    Adjust,
    Finished,
    Moment,
    Progress,
    Slot,
    after_hold,
    next_slot,
    same_again,
    used,
)
from controller.decide.turnover import stepped
from controller.decide.wiring.motion import MOVING
from controller.engine.beginning import ORDER_LATEST_S, from_now, taken_up
from controller.engine.company import held_over
from controller.engine.first_light import begun_by_hand, first_light
from controller.engine.passed import tell_passed, too_many, why_passed
from controller.store.files import frame_stem, frames_of_day
from controller.words.clock import sleep_until
from controller.words.documents import Frame, FrameState, ShootState
from controller.words.errors import CameraError, DuskhandError

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

log = logging.getLogger(__name__)

ORDER_EARLIEST_S = 3.0
"""Wall seconds ahead of a release at which its order goes out where the last frame is metered; see ORDER_LATEST_S."""

LATE_SHARE = 0.5
"""Share of the interval by which a release may be late before its slot is given up."""

_CLOCKS_SLACK_S = 1e-3

_AFTER_FIRST = 0.9
"""Of the time ahead of a release at which an order goes out at the latest: the share that is left to cameras beside
the first, or the one that leads, so that it has ordered the slot and fixed its moment."""

ANSWER_S = 12.0
"""Wall seconds after the end of an exposure in which the camera's link surely tells what became of its order."""


class _Decided(NamedTuple):
    """A decision and what it came from; `clocks_s` is the wall's clock minus the steady one."""

    progress: Progress
    adjust: Adjust
    body: Body | None
    clocks_s: float
    beat: Beat | None
    slot: Slot | Finished


class Slots:
    """The slots of one run. `progress` is where it stands, `slot` the one in hand, `ordered` what the camera has."""

    def __init__(self, run: ShootRun) -> None:
        self._run = run
        self.progress: Progress | None = None
        self._slot: Slot | None = None
        self.ordered: int | None = None
        self.withdrawing: int | None = None
        self._last: Slot | None = None
        self._decided: _Decided | None = None
        self._said: str | None = None
        self._blank = Frame(shoot=run.shoot.id, seq=0, camera=run.camera.id, due_utc=0.0, interval_s=0.0)

    @property
    def slot(self) -> Slot | None:
        """The slot in hand, or what comes next as things stand now; None where there is none."""
        if self._slot is not None and self.progress is not None and self.ordered is None:
            return self._foreseen(self.progress)
        return self._slot

    def next_exposure(self) -> Triple | None:
        """What the next slot would be exposed with as things stand; None where that is not known."""
        if self.progress is None:
            return None
        slot = self._foreseen(self.progress)
        return self.progress.exposure if slot is None else slot.base

    def _foreseen(self, progress: Progress) -> Slot | None:
        """The next slot as things stand; None where there is none, or where it cannot be decided."""
        try:
            slot = self._next(progress, self._run.moment())
        except Exception:  # said when its time has come
            log.debug("shoot %s: the next slot is not known yet", self._run.shoot.id, exc_info=True)
            return None
        return slot if isinstance(slot, Slot) else None

    def put_down(self) -> None:
        """No slot is in hand for now."""
        self._slot = None

    async def shoot(self, window: Window) -> str:
        run, light, planned = self._run, None, window
        run.reports.begin()
        if not run.held:
            again = run.resumed and run.shoot.state is not ShootState.WAITING and run.book.last is not None
            await run.set_state(ShootState.RECOVERING if again else ShootState.CHECKING, None)
            if not again:
                if run.plan.light.learn_response:
                    await run.reports.metering.learn_from_bracket(window.start_utc)
                by_hand = begun_by_hand(run, window)
                light = await first_light(run, window)
                if by_hand and run.company.several:
                    await run.company.gather(run)
                if by_hand and run.reports.beside.taken:
                    window = from_now(run, window)
        self.progress = await taken_up(run, planned, window, light)
        while run.stop_cause is None:
            try:
                cause = await self._step()
            except Exception as error:  # noqa: BLE001  whatever went wrong with one slot, the next one is tried
                await self._trouble_with_slot(error)
            else:
                if cause is not None:
                    return cause
        return run.stop_cause

    async def _step(self) -> str | None:
        """One decision; the cause of the end where there is one."""
        run = self._run
        assert self.progress is not None
        await self.look_at_clock()
        if run.held:
            return await run.holding.stay()
        if run.pulsed is not None and not run.pulsed.has(self.progress):
            return await run.pulsed.wait()
        moment = run.moment()
        if moment.mono < (latest := self._picture_until(self.progress)):
            await run.waker.until(latest)
            return None
        slot = await self.decide(self.progress, moment)
        if isinstance(slot, Finished):
            return slot.cause
        self._slot = slot
        if self._order_until(slot) < moment.mono:
            await self._log_passed(slot, moment)
        elif run.camera.opened is None:
            if run.shoot.state is not ShootState.CHECKING or self.progress.interval_s is not None:
                await run.set_state(ShootState.RECOVERING, run.camera.trouble)
            await run.waker.until(self._order_until(slot) + 0.001)
        elif moment.mono < (ready := max(self._order_at(slot), run.pulse_over_mono)):
            await run.waker.until(ready)
        else:
            if run.shoot.state is not ShootState.SHOOTING or run.shoot.cause is not None:
                await run.set_state(ShootState.SHOOTING, None)
            decided = self._decided
            if decided is None or decided.slot is not slot or decided.beat == self._beat(slot.seq):
                await self._order(slot)  # otherwise another camera has fixed its moment meanwhile
        return None

    async def look_at_clock(self) -> None:
        """Where the wall's clock was put forward or back the window under way goes with it."""
        run = self._run
        assert self.progress is not None
        if step_s := await run.clock_stepped():
            window, light = stepped(self.progress.window, step_s), shifted(self.progress.light, step_s)
            self.progress = replace(self.progress, window=window, light=light)
            await run.shift(self.progress.window)

    def _picture_until(self, progress: Progress) -> float:
        """Until when the last frame's picture is waited for before the next slot is decided."""
        run = self._run
        if not run.reports.unmetered or run.camera.opened is None or progress.interval_s is None:
            return -math.inf
        return progress.due_mono - ORDER_LATEST_S * run.clock.rate

    def _next(self, progress: Progress, moment: Moment) -> Slot | Finished:
        """The next slot, decided anew where anything has changed that it hangs on."""
        run = self._run
        body, clocks_s, before = run.body(), moment.utc - moment.mono, self._decided
        beat = self._beat(progress.seq)
        if (
            before is None
            or before.progress is not progress
            or before.adjust is not run.adjust
            or before.body is not body
            or before.beat != beat
            or abs(before.clocks_s - clocks_s) > _CLOCKS_SLACK_S
        ):
            slot = next_slot(run.plan, run.adjust, progress, body, moment, beat)
            before = self._decided = _Decided(progress, run.adjust, body, clocks_s, beat, slot)
        return before.slot

    def _beat(self, seq: int) -> Beat | None:
        """What another camera has fixed of a slot."""
        company = self._run.company
        return company.beat(seq, self._run.camera.id) if company.several else None

    async def decide(self, progress: Progress, moment: Moment) -> Slot | Finished:
        """The next slot; where that cannot be decided, one like the last: a frame outranks its best exposure."""
        try:
            return self._next(progress, moment)
        except Exception as error:
            if self._last is None:
                raise
            await self.say_trouble(error, "the last exposure and interval are kept")
            return same_again(progress, self._last, moment)

    async def say_trouble(self, error: Exception, remedy: str) -> None:
        """Tell of a fault of ours; once, not at every slot or report, while it stays the same."""
        text = f"internal trouble: {error or type(error).__name__}; {remedy}"
        if text != self._said:
            self._said = text
            log.error("shoot %s: internal trouble", self._run.shoot.id, exc_info=error)
            await self._run.book.note("engine-trouble", text, self._run.clock.utc())

    def _allowed_late(self, slot: Slot) -> float:
        return slot.interval_s * LATE_SHARE

    def _order_until(self, slot: Slot) -> float:
        """Until when it may still be ordered: the other half of what a release may be late is the camera's."""
        return slot.due_mono + 0.5 * self._allowed_late(slot)

    def _order_at(self, slot: Slot) -> float:
        latest = min(ORDER_LATEST_S * self._run.clock.rate, 0.4 * slot.interval_s)
        if self._run.company.waits(slot.seq, self._run.camera.id):
            return slot.due_mono - latest * _AFTER_FIRST
        lead = latest if self._run.reports.unmetered else max(ORDER_EARLIEST_S * self._run.clock.rate, latest)
        return slot.due_mono - lead

    def frame_of(self, slot: Slot) -> Frame:
        """The log's row for a slot, as intended."""
        exposure = slot.exposure
        return self._blank.but(
            {
                "seq": slot.seq,
                "due_utc": slot.due_utc,
                "interval_s": slot.interval_s,
                "shutter_s": exposure.shutter_s,
                "aperture": exposure.aperture,
                "iso": exposure.iso,
                "exposure_ev": exposure.ev,
                "target_ev": slot.target_ev,
                "sun_altitude_deg": slot.sun_altitude_deg,
                "sun_azimuth_deg": slot.sun_azimuth_deg,
                "moon_altitude_deg": slot.moon_altitude_deg,
                "gap_s": slot.gap_s,
            }
        )

    async def _order(self, slot: Slot) -> None:
        run = self._run
        assert self.progress is not None
        if run.company.several:
            run.company.fix(slot, run.camera.id)
        await run.book.intend(self.frame_of(slot), within_s=self._left_s(slot) / 2)
        if run.held or run.stop_cause is not None:
            await run.book.withdraw(slot.seq)
            return
        run.reports.expect(slot)
        self.ordered = slot.seq
        clock, exposure, latest = run.clock, slot.exposure, slot.due_mono + self._allowed_late(slot)
        if (due := run.released_at(slot, latest)) is None:
            return await run.reports.missed(slot.seq, MOVING)
        order = Release(
            seq=slot.seq,
            due_mono=clock.to_wall(due),
            latest_mono=clock.to_wall(latest),
            shutter_s=exposure.shutter_s,
            aperture=exposure.aperture,
            iso=exposure.iso,
            exposure_s=exposure.shutter_s / clock.rate,
            fetch=run.reports.fetching.order(slot.seq),
            directory=frames_of_day(run.directory, run.shoot.id, slot.due_utc, run.camera.id),
            stem=frame_stem(slot.seq),
        )
        try:
            await run.camera.release(order)
        except CameraError as error:
            await run.reports.missed(slot.seq, str(error))
        given_up = clock.from_wall(order.latest_mono + order.exposure_s + ANSWER_S)
        while self.ordered == slot.seq and clock.mono() < given_up and self._is_due(slot):
            await run.waker.until(given_up)
        if self.ordered == slot.seq and not self._is_due(slot):  # its release was not heard of, what followed was
            self.outcome(slot, released=True)
        if self.ordered == slot.seq:
            raise CameraError("camera-no-answer", "nothing was heard of an order", f"slot {slot.seq}")

    def _left_s(self, slot: Slot) -> float:
        """Wall seconds until a slot is due."""
        return max(0.0, (slot.due_mono - self._run.clock.mono()) / self._run.clock.rate)

    def _is_due(self, slot: Slot) -> bool:
        frame = self._run.book.frames.get(slot.seq)
        return frame is not None and frame.state is FrameState.DUE

    def outcome(self, slot: Slot, released: bool) -> None:
        """The ordered slot was released, or it passed."""
        if self.ordered == slot.seq:
            self.ordered = None
            self._last = slot
            assert self.progress is not None
            self.progress = used(self.progress, slot, released)
            self.withdrawing = None
            self._run.changed()
        self._run.waker.wake()

    def order_withdrawn(self, seq: int) -> None:
        """The camera has let go of an order that was taken back; its slot is not used up."""
        self.withdrawing = None
        if self.ordered == seq:
            self.ordered = None
        self._run.waker.wake()

    async def _log_passed(self, slot: Slot, moment: Moment) -> None:
        """Log every slot that has passed by now; in one go, since they may be many after a long outage."""
        run = self._run
        assert self.progress is not None
        if too_many(slot, moment):
            await tell_passed(run, slot, moment, why_passed(run, slot))
            return await self.from_now_on(run.clock.mono())
        passed: list[Frame] = []
        until = moment.mono
        step: Slot | Finished = slot
        while isinstance(step, Slot) and self._order_until(step) < until and len(passed) < 1000:
            passed.append(self.frame_of(step).but({"state": FrameState.MISSED, "cause": why_passed(run, step)}))
            if run.company.several:
                run.company.fix(step, run.camera.id)
            self.progress = used(self.progress, step, False)
            step = next_slot(run.plan, run.adjust, self.progress, run.body(), moment, self._beat(self.progress.seq))
            if run.pulsed is not None:
                break  # the next one is due when its pulse comes
        await run.book.missed(passed)
        run.changed()

    async def _trouble_with_slot(self, error: Exception) -> None:
        """Give up the slot in hand, so that trouble with one slot is never trouble with all."""
        run = self._run
        slot, self.ordered = self._slot, None
        try:
            await self.say_trouble(error, "the slot is given up")
            if slot is not None and self.progress is not None and slot.seq == self.progress.seq:
                self.progress = used(self.progress, slot, False)
                missed = {"state": FrameState.MISSED, "cause": f"internal trouble: {error or type(error).__name__}"}
                if slot.seq in run.book.frames:
                    if self._is_due(slot):
                        await run.book.change(slot.seq, **missed)
                else:
                    await run.book.missed([self.frame_of(slot).but(missed)])
        except DuskhandError as further:
            log.error("shoot %s: nor could that be logged: %s", run.shoot.id, further)
        await sleep_until(run.clock, run.clock.mono() + 0.5 * run.clock.rate)

    async def from_now_on(self, from_mono: float) -> None:
        """After a hold, or an outage that is told: the next slot comes a moment after `from_mono`, if not later."""
        await self._catch_up()
        assert self.progress is not None
        soon = from_mono + ORDER_LATEST_S * 2 * self._run.clock.rate
        self.progress = after_hold(self.progress, self._run.moment(), soon)

    async def _catch_up(self) -> None:
        """After a hold: be at the slot that comes next for all cameras, one of which may have released one more."""
        run = self._run
        while run.company.several and self.progress is not None and self.progress.seq < run.company.next_seq():
            slot = next_slot(run.plan, run.adjust, self.progress, run.body(), run.moment())
            if isinstance(slot, Finished):
                return
            await run.book.missed([held_over(self.frame_of(slot))])
            self.progress = used(self.progress, slot, False)

    async def withdraw_order(self) -> None:
        if self.ordered is not None:
            self.withdrawing = self.ordered
            with contextlib.suppress(CameraError):  # a camera that is gone releases nothing
                await self._run.camera.cancel(self.ordered)
        self._run.waker.wake()

    def overdue_s(self) -> float:
        """Wall seconds by which the slot in hand, its exposure included, has passed; 0 where none is in hand."""
        if self._slot is None or self._run.held:
            return 0.0
        end = self._slot.due_mono + self._slot.exposure.shutter_s
        return max(0.0, (self._run.clock.mono() - end) / self._run.clock.rate)
