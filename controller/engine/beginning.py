"""Where a run takes up a window: at its start, at once, or where an earlier start of the rig left it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from controller.decide.follow import Light
from controller.decide.resume import light_after, resume
from controller.decide.schedule import Window
from controller.decide.step import Adjust, Moment, Progress, begin
from controller.decide.turnover import WRONG_CLOCK_S, stepped
from controller.engine.company import Start
from controller.engine.first_light import STALE_S, begun_by_hand
from controller.words.documents import Frame

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

ORDER_LATEST_S = 0.25
"""Wall seconds ahead of a release at which its order goes out at the latest."""


async def taken_up(run: ShootRun, planned: Window, window: Window, light: Light | None) -> Progress:
    """The run's progress at the start of a window, which was `planned` and is now `window`.

    `light` is what test frames told, if any were taken.
    """
    progress = await _begin(run, planned, window, light)
    if progress.window is not planned:
        await run.shift(progress.window)
    return progress


def from_now(run: ShootRun, window: Window) -> Window:
    """A window that began by hand, and whose length is given, begins once the test frames are over."""
    if run.plan.when.parts()[window.part].duration is None:
        return window
    return stepped(window, run.clock.utc() + _soon_s(run) - window.start_utc)


def _soon_s(run: ShootRun) -> float:
    return ORDER_LATEST_S * 2 * run.clock.rate


async def _begin(run: ShootRun, planned: Window, window: Window, light: Light | None) -> Progress:
    moment = run.moment()
    last = run.book.last or run.company.last()
    of_this = last is not None and window.start_utc - 1.0 <= last.due_utc < moment.utc + WRONG_CLOCK_S
    if last is not None and of_this and last.shutter_s is not None:
        done = 0 if window.frames is None else await run.book.done_since(window.start_utc)
        progress = await _resumed(run, window, moment, last, done)
        soonest = moment.mono + last.interval_s  # where the clock came up behind, the cadence does not wait for it
        return replace(progress, due_mono=min(progress.due_mono, soonest))
    # Whoever starts a plan late starts now; what the rig itself slept or waited through is logged as missed.
    begun_utc = run.shoot.created_utc
    if last is not None and of_this:  # slots up to the last are in the log; only its exposure is not known
        begun_utc = max(begun_utc, last.due_utc + last.interval_s)
    begun = moment.mono + min(begun_utc, moment.utc) - moment.utc
    by_hand = begun_by_hand(run, planned)
    earliest = moment.mono + _soon_s(run) if by_hand else max(begun, run.stepped_mono)
    progress = begin(run.plan, window, moment, earliest_mono=earliest)
    progress = replace(progress, seq=1 if last is None else last.seq + 1)
    if run.company.several:
        common = run.company.start(planned, Start(window, progress.due_mono, progress.seq))
        progress = replace(progress, window=common.window, due_mono=common.due_mono, seq=common.seq)
    if last is not None and light is None and abs(window.start_utc - last.due_utc) <= STALE_S:
        light = light_after(run.plan, last, await _in_force(run, last))
    return replace(progress, light=light or Light())


async def _resumed(run: ShootRun, window: Window, moment: Moment, last: Frame, done: int) -> Progress:
    count = len(run.plan.light.offsets)
    rows = await run.book.rows_since(last.seq - 2 * count) if count > 1 else []
    before = [row for row in rows if last.seq - 2 * count < row.seq < last.seq]
    then, body = await _in_force(run, last), run.body()
    return resume(
        run.plan, window, moment, last=last, frames_done=done, rows=before, adjust=run.adjust, then=then, body=body
    )


async def _in_force(run: ShootRun, last: Frame) -> Adjust:
    """What a person had changed by the time of a frame; changes may have come since."""
    before = await run.book.changed_after(last.due_utc)
    return run.adjust if before is None else Adjust.from_document(before)
