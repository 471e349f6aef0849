"""What a rig does by the wall's time: small regular work, and waking a shoot when its window comes."""

from __future__ import annotations

import logging
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta

from apscheduler.schedulers.asyncio import AsyncIOScheduler

from controller.words.errors import DuskhandError

log = logging.getLogger(__name__)


class Chores:
    """Runs each chore at its interval in wall seconds; one that fails is logged and tried again at its next turn."""

    def __init__(self) -> None:
        self._scheduler = AsyncIOScheduler(timezone="UTC")

    def every(self, seconds: float, name: str, work: Callable[[], Awaitable[None]]) -> None:
        """Run `work` every `seconds`; a turn that comes while the last still runs is left out."""

        async def guarded() -> None:
            try:
                await work()
            except DuskhandError as error:
                log.warning("%s: %s", name, error)

        self._scheduler.add_job(guarded, "interval", seconds=seconds, id=name, max_instances=1, coalesce=True)

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

    def stop(self) -> None:
        self._scheduler.shutdown(wait=False)
