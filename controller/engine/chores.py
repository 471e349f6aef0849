"""What a rig does at its time: small regular work, and waking a shoot when its window comes.

APScheduler goes by the machine's clock, which may be put forward or back by years. Put back, all that is planned is
moved along with it: it would be left undone for as long. Put forward, all is due at once, and done once: APScheduler's
own trigger would count every turn that it takes as missed, one by one.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta

from apscheduler.schedulers.asyncio import AsyncIOScheduler
from apscheduler.triggers.base import BaseTrigger

from controller.words.clock import Steps, WallClock
from controller.words.errors import DuskhandError

log = logging.getLogger(__name__)

LOOK_EVERY_S = 10.0


class _Every(BaseTrigger):  # type: ignore[misc]  # it comes without types
    """The next turn comes so many seconds after the last one was taken."""

    def __init__(self, seconds: float) -> None:
        self._between = timedelta(seconds=seconds)

    def get_next_fire_time(self, _: datetime | None, now: datetime) -> datetime:
        return now + self._between


class Chores:
    """Runs each chore at its interval in wall seconds; one that fails is logged and tried again at its next turn.

    `tell` takes a fault of ours in words, once while it stays the same: a rig that no longer looks at its disk, or that
    nobody watches over, must not keep that to itself.
    """

    def __init__(self, tell: Callable[[str], Awaitable[None]] | None = None) -> None:
        self._tell = tell
        self._said: dict[str, str] = {}  # by chore, what was told of it
        self._scheduler = AsyncIOScheduler(timezone="UTC")
        self._steps = Steps(WallClock())  # one that is told nothing is the machine's own
        self._watching: asyncio.Task[None] | None = None
        self._stopped = False

    def every(self, seconds: float, name: str, work: Callable[[], Awaitable[None]]) -> None:
        """Run `work` every `seconds`; a turn that comes while the last still runs is left out."""

        async def guarded() -> None:
            try:
                await work()
                self._said.pop(name, None)
            except DuskhandError as error:
                log.warning("%s: %s", name, error)
            except Exception as error:  # noqa: BLE001  it is told, and its next turn comes
                await self._failed(name, error)
            except asyncio.CancelledError:  # APScheduler cancels what is under way when it ends, and logs a traceback
                if not self._stopped:
                    raise

        self._scheduler.add_job(guarded, _Every(seconds), id=name, misfire_grace_time=None, coalesce=True)

    async def _failed(self, name: str, error: Exception) -> None:
        text = f"{name}: internal trouble: {error or type(error).__name__}; it is tried again at its next turn"
        if self._said.get(name) != text:
            self._said[name] = text
            log.error("%s", name, exc_info=error)
            if self._tell is not None:
                await self._tell(text)

    def wake(self, name: str, in_s: float | None, wake: Callable[[], object]) -> None:
        """Call `wake` in `in_s` wall seconds, in place of what was set under this name; not at all where that is None.

        It is set anew from each look at the plan, and is no more than a call to look again.
        """
        if self._scheduler.get_job(name) is not None:
            self._scheduler.remove_job(name)
        if in_s is not None:
            at = datetime.now(UTC) + timedelta(seconds=in_s)
            self._scheduler.add_job(wake, "date", run_date=at, id=name, misfire_grace_time=None)

    def start(self) -> None:
        self._scheduler.start()
        self._watching = asyncio.create_task(self._watch())

    async def _watch(self) -> None:
        while True:
            await asyncio.sleep(LOOK_EVERY_S)
            self.look()

    def look(self) -> None:
        """Move what is planned along with a clock that was put back; of one put forward it may be planned anew."""
        step = timedelta(seconds=self._steps.look())
        if step >= timedelta(0):
            return
        for job in self._scheduler.get_jobs():
            if job.next_run_time is not None:
                job.modify(next_run_time=job.next_run_time + step)

    def stop(self) -> None:
        self._stopped = True
        if self._watching is not None:
            self._watching.cancel()
        self._scheduler.shutdown(wait=False)
