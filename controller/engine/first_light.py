"""Test frames before the first slot of a window, so that it is exposed for the light that there is.

They never cost a slot: they end well before it, and are left out where time is short or the camera is not there.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from controller.decide.exposure import Triple
from controller.decide.first_light import MOST, Search, exposure_for, looked
from controller.decide.follow import Light
from controller.decide.plan import FollowLight
from controller.decide.schedule import Window
from controller.engine.beside import LEAD_S
from controller.words.errors import DuskhandError

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

log = logging.getLogger(__name__)

STALE_S = 1800.0
"""Plan seconds after the last frame from which its light says nothing of the next window's."""

BEGIN_S, BEGIN_WALL_S = 60.0, 6.0
"""Plan and wall seconds before a window from which they are taken: late, for the light to be that of the window."""

END_S, END_WALL_S = 10.0, 1.0
"""Plan and wall seconds before a window by which they are over."""

LONGEST_S = 8.0
"""Plan seconds of a test frame ahead of a window; then the ISO gives way."""

NOW_S, NOW_LONGEST_S = 5.0, 2.0
"""Wall seconds for which a start by hand waits for them, and plan seconds of the longest."""

ANSWER_S = 1.5
"""Wall seconds from the end of an exposure to its small picture; some bodies take a dark frame as long in between."""


def begun_by_hand(run: ShootRun, window: Window) -> bool:
    """Whether a window begins with its shoot: somebody stands beside the camera, and no slot is due before that."""
    return window.start_utc <= run.shoot.created_utc and run.book.last is None and not run.resumed


async def first_light(run: ShootRun, window: Window) -> Light | None:
    """The light before the first slot of a window; None where no test frame was taken or could be read.

    Returns at once where the plan does not want it, does not follow the light, or frames of a moment ago tell.
    """
    rule = run.plan.light
    if not isinstance(rule, FollowLight) or not rule.test_frame or run.plan.files.fetch == "none":
        return None
    last, clock = run.book.last, run.clock
    if last is not None and abs(window.start_utc - last.due_utc) <= STALE_S:
        return None
    if by_hand := begun_by_hand(run, window):
        until_mono = clock.mono() + NOW_S * clock.rate
    else:
        start_mono = clock.mono() + window.start_utc - clock.utc()
        until_mono = start_mono - max(END_S, END_WALL_S * clock.rate)
        await _wait(run, start_mono - max(BEGIN_S, BEGIN_WALL_S * clock.rate), until_mono)
    return await _Looking(run, rule, until_mono, NOW_LONGEST_S if by_hand else LONGEST_S).look()


async def _wait(run: ShootRun, begin_mono: float, until_mono: float) -> None:
    """Until it is time, and the camera there."""
    clock = run.clock
    while _go_on(run) and clock.mono() < begin_mono:
        await run.waker.until(begin_mono)
    while _go_on(run) and run.camera.opened is None and (now := clock.mono()) < until_mono:
        await run.waker.until(min(now + clock.rate, until_mono))


def _go_on(run: ShootRun) -> bool:
    return run.stop_cause is None and not run.held


class _Looking:
    def __init__(self, run: ShootRun, rule: FollowLight, until_mono: float, longest_s: float) -> None:
        self._run, self._rule, self._until_mono, self._longest_s = run, rule, until_mono, longest_s
        self._left_out: str | None = None

    async def look(self) -> Light | None:
        """Take as many as are needed; what they tell is noted."""
        beside = self._run.reports.beside
        files, taken = len(beside.files), beside.taken
        search = Search()
        beside.looking = True
        try:
            search = await self._search()
        except DuskhandError as error:
            self._left_out = str(error)
        except Exception as error:  # a first frame well exposed is worth no frame
            log.exception("the test frames failed")
            self._left_out = f"internal trouble: {error or type(error).__name__}"
        finally:
            beside.looking = False
        if (count := beside.taken - taken) > 0 or self._left_out:
            await self._note(search, count, beside.files[files:])
        return search.light

    async def _search(self) -> Search:
        run, clock = self._run, self._run.clock
        search, tried = Search(), set[Triple]()
        while _go_on(run) and len(tried) < MOST and not search.settled:
            if run.camera.opened is None:
                self._left_out = run.camera.trouble or "the camera is not there"
                break
            longest_s = min(self._longest_s, run.plan.pace.shortest()[1] - run.plan.pace.min_gap_s)
            utc = clock.utc() + LEAD_S * clock.rate
            exposure = exposure_for(run.plan, self._rule, run.adjust, run.body(), search, utc, longest_s)
            if exposure in tried or not self._time_for(exposure):
                break
            tried.add(exposure)
            left_s = (self._until_mono - clock.mono() - 2 * exposure.shutter_s) / clock.rate - LEAD_S - ANSWER_S
            picture = await run.reports.beside.take(
                exposure, set_aperture=True, late_s=max(ANSWER_S, left_s), answer_s=ANSWER_S
            )
            if picture is None:
                self._left_out = run.reports.beside.trouble
                break
            reading = await run.reports.metering.take(picture.preview, None)
            search = looked(run.plan, search, picture.exposure, picture.mid_utc, reading)
        return search

    def _time_for(self, exposure: Triple) -> bool:
        clock = self._run.clock
        return clock.mono() + 2 * exposure.shutter_s + (LEAD_S + ANSWER_S) * clock.rate <= self._until_mono

    async def _note(self, search: Search, count: int, files: list[str]) -> None:
        frames = f"{count} test {'frame' if count == 1 else 'frames'} before the window"
        if search.light is None:
            text = f"{frames}: the first exposure goes by the sky model alone: {self._left_out or 'nothing was learnt'}"
            offset_ev = None
        else:
            offset_ev = round(search.light.offset_ev, 2)
            way = "brighter" if offset_ev >= 0 else "darker"
            text = f"{frames}: the scene is {abs(offset_ev):.1f} EV {way} than the sky model; they stay on the card"
        await self._run.book.note(
            "test-frame",
            text,
            self._run.clock.utc(),
            frames=count,
            offset_ev=offset_ev,
            settled=search.settled,
            files=files,
        )
