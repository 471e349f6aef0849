"""Held: nothing is released, the shoot stays alive. It goes on when somebody resumes it, or by itself after a time."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, NamedTuple

from controller.engine.beside import LEAD_S
from controller.engine.transitions import require
from controller.words.documents import ShootState
from controller.words.errors import Conflict
from controller.words.phrases import length as said_s

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

LOOK_AGAIN_S = 30.0
"""Wall seconds after which whoever waits looks at the time again, since the wall's clock may have stepped."""

ANSWER_S = 4.0
"""Wall seconds from the end of a test frame, its dark frame included, by which the camera is surely through with it."""

LATE_S = 10.0
"""Wall seconds by which a test frame may be released late where the hold lasts: a body that sleeps wakes up first."""

LEFT_S = 20.0
"""Wall seconds for which the camera's answer to a test frame is waited for where the hold lasts."""

FREE = "Hold the shoot, and try again in a moment"


class Loan(NamedTuple):
    """A camera lent for a frame: by how many wall seconds it may be released late, for how many from the end of its
    exposure its picture is waited for, and how many are `left_s()` of all."""

    late_s: float
    answer_s: float
    left_s: Callable[[], float]


class Holding:
    """Of one run. `until_mono`: when it goes on by itself. `resting`: no slot is in hand. `lent`: a test frame is being
    taken, and the shoot waits for its end before it goes on."""

    def __init__(self, run: ShootRun) -> None:
        self._run = run
        self.on = run.shoot.state is ShootState.HELD
        self.until_mono = math.inf
        self.resting = self.lent = False
        self._before = ShootState.WAITING

    # ---- what people ask

    async def hold(self, for_s: float | None) -> None:
        """See `ShootRun.hold`."""
        run = self._run
        require(run.shoot.id, run.shoot.state, ShootState.HELD)
        until_mono = math.inf if for_s is None else run.clock.mono() + for_s
        if self.on and until_mono == self.until_mono:
            return
        if not self.on:
            self._before, self.on = run.shoot.state, True
            if run.pulsed is not None:
                run.pulsed.forget()
        self.until_mono = until_mono
        until_utc = None if for_s is None else run.clock.utc() + for_s
        text = "held by hand" if for_s is None else f"held by hand for {said_s(for_s)}"
        await run.set_state(ShootState.HELD, "held by hand", hold_s=for_s, held_until_utc=until_utc)
        await run.book.note("held", text, run.clock.utc(), for_s=for_s)
        await run.slots.withdraw_order()
        run.waker.wake()

    async def resume(self, text: str = "goes on after a hold") -> None:
        """See `ShootRun.resume`."""
        run = self._run
        require(run.shoot.id, run.shoot.state, ShootState.SHOOTING)
        if self.on:
            self.on = False
            state = ShootState.SHOOTING if run.slots.progress else self._before
            await run.set_state(state, None, hold_s=None, held_until_utc=None)  # before anybody can hold it again
            await run.book.note("resumed", text, run.clock.utc())
        run.waker.wake()

    # ---- its end

    @property
    def left_s(self) -> float:
        """Plan seconds until it goes on by itself; 0 where it does not."""
        left_s = self.until_mono - self._run.clock.mono()
        return max(0.0, left_s) if self.on and left_s < math.inf else 0.0

    async def take_up(self) -> None:
        """What an earlier start of the rig began ends when it was to, and at the latest once it has lasted so long from
        now on: the clock may have come up behind."""
        run, hold_s, until_utc = self._run, self._run.shoot.hold_s, self._run.shoot.held_until_utc
        if self.on and hold_s is not None and until_utc is not None:
            left_s = min(until_utc - run.clock.utc(), hold_s)
            self.until_mono = run.clock.mono() + left_s
            await run.save(held_until_utc=run.clock.utc() + left_s)

    async def over(self) -> bool:
        """Go on where it has lasted as long as it was to; whether it has."""
        if not self.on or self._run.clock.mono() < self.until_mono:
            return False
        await self.resume("goes on by itself after a hold")
        return True

    def look_again(self, left_s: float) -> float:
        """Until when to wait for something that is `left_s` away by the wall's clock, which may step."""
        clock = self._run.clock
        look_mono = clock.mono() + min(left_s, LOOK_AGAIN_S * clock.rate)
        return min(look_mono, self.until_mono) if self.on else look_mono

    async def stay(self) -> str | None:
        """Within a window: return once it goes on, or why the window has ended meanwhile."""
        run = self._run
        assert run.window is not None
        await run.set_state(ShootState.HELD, run.shoot.cause)
        run.slots.put_down()
        self.resting = True
        try:
            while (self.on and not await self.over() and run.stop_cause is None) or self.lent:
                await run.slots.look_at_clock()
                left_s = math.inf if run.window.stop_utc is None else run.window.stop_utc - run.clock.utc()
                if left_s <= 0 and not self.lent:
                    return "the window ended while the shoot was held"
                await run.waker.until(self.look_again(left_s if left_s > 0 else 1.0))
        finally:
            self.resting = False
        # Slots since a hold that ended while the rig was off are missed.
        await run.slots.from_now_on(self.until_mono if self.until_mono < run.up_mono else run.clock.mono())
        self.until_mono = math.inf
        return None

    # ---- its camera

    @contextmanager
    def lend(self, exposure_s: float) -> Iterator[Loan]:
        """The camera for one frame of no slot. What is due comes first: Conflict where it is not free for so long."""
        run = self._run
        if not (self.on and self.resting) or self.lent:
            what = "a shoot has this camera, or a test frame is being taken with it"
            raise Conflict("shoot-has-camera", what, where=run.camera.id, remedy=FREE)
        if run.book.open_frames() or run.slots.ordered is not None:
            what = "frames of the shoot are still on their way to the card"
            raise Conflict("frames-on-their-way", what, where=run.camera.id, remedy="Try again in a moment")
        exposure_s /= run.clock.rate
        takes_s, late_s = LEAD_S + 2 * exposure_s + ANSWER_S, LATE_S
        if ends := self.until_mono < math.inf:
            late_s = min(late_s, self.left_s / run.clock.rate - takes_s)
        if late_s < 0:
            goes_on, takes = said_s(self.left_s), said_s(takes_s * run.clock.rate)
            what = f"the shoot goes on in {goes_on}, and a test frame of this exposure takes up to {takes}"
            raise Conflict("hold-too-short", what, where=run.camera.id, remedy="Hold it longer, or expose shorter")
        self.lent = True
        try:
            yield Loan(
                late_s,
                exposure_s + (ANSWER_S if ends else LEFT_S),
                lambda: self.left_s / run.clock.rate if ends else ANSWER_S,
            )
        finally:
            self.lent = False
            run.waker.wake()
