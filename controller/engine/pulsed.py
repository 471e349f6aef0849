"""Slots that are due when a pulse comes: the waiting of one run for the trigger input."""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from typing import TYPE_CHECKING

from controller.decide.plan import ByPulse
from controller.decide.schedule import Window
from controller.decide.step import Finished, Progress, used
from controller.decide.wiring.pulses import too_early
from controller.engine.holding import LOOK_AGAIN_S
from controller.words.documents import FrameState, ShootState
from controller.words.phrases import length

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

SILENT_S = 300.0
"""Plan seconds without a pulse after which that is noted."""

_KEPT = 1000  # pulses that wait for a camera that is stuck


class Pulsed:
    """The pulses of one run. Moments are plan seconds."""

    def __init__(self, run: ShootRun, pace: ByPulse) -> None:
        self._run, self._pace = run, pace
        self._pulses: deque[float] = deque(maxlen=_KEPT)
        self._taken: tuple[int, float] | None = None  # the slot whose pulse has come, and that pulse
        # The last pulse that was shot, or would have been; what is early is so against it: a fast train is thinned out.
        self._before: float | None = None
        self._since = run.clock.mono()
        self._window: Window | None = None
        self._silent = False
        self.said: str | None = None  # why no pulse can come

    def take(self, at: float) -> None:
        """A pulse came; it counts while the shoot is shooting and is not held."""
        run = self._run
        if run.slots.progress is not None and not run.held and not run.stopping:
            self._pulses.append(at)
            run.waker.wake()

    def forget(self) -> None:
        """A hold: what came before it is not shot any more."""
        self._pulses.clear()
        self._taken = None
        self._since = self._run.clock.mono()

    def has(self, progress: Progress) -> bool:
        """Whether the pulse of the next slot has come."""
        return self._taken == (progress.seq, progress.due_mono)

    async def wait(self) -> str | None:
        """Until the next pulse, or for a while. The cause of the end, where the window has come to one."""
        run, progress = self._run, self._run.slots.progress
        assert progress is not None
        moment = run.moment()
        if progress.window is not self._window:
            self._window, self._since = progress.window, max(moment.mono, progress.due_mono)
        if (at := self._next(progress)) is not None:
            await self._came(at)
            return None
        at_best = replace(progress, due_mono=max(progress.due_mono, moment.mono))
        coming = await run.slots.decide(at_best, moment)
        if isinstance(coming, Finished):
            return coming.cause
        run.slots.put_down()
        await self._say(moment.mono)
        until = moment.mono + LOOK_AGAIN_S * run.clock.rate
        if progress.window.stop_utc is not None:
            until = min(until, moment.mono + max(0.0, progress.window.stop_utc - moment.utc) + 0.001)
        await run.waker.until(until)
        return None

    def _next(self, progress: Progress) -> float | None:
        """The pulse of the next slot: where another camera of the shoot has fixed it, that one."""
        company = self._run.company
        beat = company.beat(progress.seq, self._run.camera.id) if company.several else None
        if beat is not None:
            while self._pulses and self._pulses[0] <= beat.due_mono + 1e-6:
                self._pulses.popleft()
            return beat.due_mono
        while self._pulses:
            at = self._pulses.popleft()
            begun = self._before is not None and progress.interval_s is not None
            if begun or at >= progress.due_mono:  # those before the window's first slot are none
                return at
        return None

    async def _came(self, at: float) -> None:
        run = self._run
        self._since = run.clock.mono()
        if self._silent:
            self._silent = False
            await run.book.note("pulses-again", "pulses come again on the trigger input", run.clock.utc())
        progress = run.slots.progress  # a picture may have been metered meanwhile
        assert progress is not None
        due_utc = run.clock.utc() - (run.clock.mono() - at)
        cause = too_early(at, self._before, self._pace.min_interval_s)
        pulsed = replace(progress, due_mono=at, due_utc=due_utc)
        if cause is None:
            self._taken, self._before = (progress.seq, at), at
            run.slots.progress = pulsed
            return
        slot = await run.slots.decide(pulsed, run.moment())
        if isinstance(slot, Finished):
            return
        if run.company.several:
            run.company.fix(slot, run.camera.id)
        run.slots.progress = used(pulsed, slot, released=False)
        missed = {"state": FrameState.MISSED, "cause": cause}
        await run.book.missed([run.slots.frame_of(slot).but(missed)])
        run.changed()

    async def _say(self, now: float) -> None:
        run = self._run
        waits = self.said or "waits for a pulse on the trigger input"
        if run.camera.opened is not None and (run.shoot.state is not ShootState.SHOOTING or self._silent):
            await run.set_state(ShootState.SHOOTING, waits)
        if not self._silent and now - self._since > SILENT_S:
            self._silent = True
            text = f"no pulse has come on the trigger input for {length(SILENT_S)}"
            if run.company.first is run:
                await run.book.note("no-pulse", self.said or text, run.clock.utc())
