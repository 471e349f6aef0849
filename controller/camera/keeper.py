"""Keeps a camera process: starts it, watches it, ends it where it hangs, and goes up the ladder after a loss."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import math
import time
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from controller.camera.climb import Climb
from controller.camera.ladder import Cause, Move, Rung, cause_of
from controller.camera.messages import Again, Close, Opened, Report, Trouble
from controller.camera.power import PowerCycle
from controller.camera.process import WorkerProcess
from controller.camera.watch import REMEDY, Watch
from controller.camera.wire import Message

log = logging.getLogger(__name__)

_WATCH_S = 0.25
_STOP_S = 3.0


class Kept(Protocol):
    """Whose process it is."""

    id: str
    address: str
    opened: Opened | None  # None while there is no session

    def take(self, message: Message) -> None:
        """What the process says, in order."""
        ...

    def absent(self, trouble: Trouble) -> None:
        """There is no camera, or no process."""
        ...

    def gone(self, trouble: Trouble | None) -> None:
        """The process has ended; `trouble` where it ended by itself or was ended since something was wrong."""
        ...


class Keeper:
    """`tell` takes reports for the engine. `process` is None where none runs, `watch` is that of the present one."""

    def __init__(self, kept: Kept, tell: Callable[[Report], None], power: PowerCycle | None) -> None:
        self._kept, self._tell, self._power = kept, tell, power
        self._climb = Climb(tell, usb=kept.address.startswith("usb:"), power=power is not None)
        self._stopping = asyncio.Event()
        self._task: asyncio.Task[None] | None = None
        self._fatal: Trouble | None = None
        self._move: Move | None = None  # what comes after this process
        self._again: asyncio.Task[None] | None = None
        self.process: WorkerProcess | None = None
        self.watch = Watch(time.monotonic())
        self.known: Opened | None = None  # the camera that was open last
        self.held_open: set[int] = set()  # slots whose exposure is held open, until their file is there
        if power is not None:
            power.spares(self.clear_s)

    # ---- from start to end

    def start(self, settings: Path) -> None:
        """Begin; returns at once. `settings` is the directory of libgphoto2's own files."""
        self._stopping.clear()
        self._task = asyncio.create_task(self._keep(settings), name=f"camera {self._kept.id} keeper")

    async def stop(self) -> None:
        """Close the session and end the process, within 3 s in good order, by force after that."""
        if self._task is None:
            return
        self._stopping.set()
        if self.process is not None:
            with contextlib.suppress(OSError):
                await self.process.send(Close())
        done, _ = await asyncio.wait({self._task}, timeout=_STOP_S)
        if not done and self.process is not None:
            self.process.kill()
        await self._task  # a camera whose power was cut gets it back first
        self._task = None

    @property
    def at_work(self) -> bool:
        """Whether the camera is looked after: its process watched, or brought back."""
        return self._task is not None and not self._task.done()

    @property
    def stopping(self) -> bool:
        return self._stopping.is_set()

    # ---- what happens

    def there(self) -> None:
        """A session stands."""
        self.watch.opened()
        self._climb.there(time.monotonic())

    def lost(self) -> None:
        """The session that stood is gone; what was ordered of it is answered no more."""
        now = time.monotonic()
        self._climb.lost(now)
        self.watch = Watch(now)

    def kill(self, why: Trouble) -> None:
        """End the process, since something is wrong with it."""
        log.error("%s: %s; its process is killed", self._kept.id, why.what)
        self._fatal = self._fatal or why
        if self.process is not None:
            self.process.kill()

    def go_on(self, trouble: Trouble) -> None:
        """The process lives and has no camera: let it try again, or end it for the next one."""
        self._move = None
        move = self._next(cause_of(trouble.code), trouble.what)
        if move.rung in (Rung.SESSION, Rung.PORT):
            self._again = asyncio.create_task(self._try_again(move), name=f"camera {self._kept.id} again")
            return
        self._move = move
        if self.process is not None:
            self.process.kill()

    def clear_s(self) -> float:
        """Seconds until this camera's next release; infinite where none is known of, 0 while it exposes."""
        return self.watch.clear_s(time.monotonic()) if self._kept.opened is not None else math.inf

    # ---- the climb

    def _next(self, cause: Cause, what: str) -> Move:
        clear_s = self._power.clear_s() if self._power is not None else math.inf
        return self._climb.failed(cause, what, time.monotonic(), clear_s)

    async def _try_again(self, move: Move) -> None:
        await asyncio.sleep(move.wait_s)
        self.watch = Watch(time.monotonic())
        if self.process is not None:
            with contextlib.suppress(OSError):  # it has ended: the next one tries
                await self.process.send(Again(move.rung is Rung.PORT, bool(self.held_open)))

    async def _keep(self, settings: Path) -> None:
        while not self.stopping:
            self._move, why = None, "its process ended"
            try:
                status = await self._one_process(settings)
            except Exception as error:  # whatever it was, the camera is wanted again
                log.exception("%s: its process could not be kept", self._kept.id)
                status, why = 0, str(error)
            why = self._ended(status) or why
            if self.stopping:
                return
            move = self._move or self._next(Cause.ENDED, why)
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._stopping.wait(), move.wait_s)
            if move.rung is Rung.POWER and self._power is not None and not self.stopping:
                failed = await self._power.cycle(self._kept.id, self._kept.address)
                if failed is not None:
                    log.error("%s: %s", self._kept.id, failed.what)
                    self._tell(failed)

    def _ended(self, status: int) -> str:
        """A process has ended: tell what is known of it, and give it."""
        why = self._fatal
        if why is None and not self.stopping and self._kept.opened is not None:
            why = Trouble("camera-process-ended", f"the camera process ended ({_ending(status)})", REMEDY)
        self._kept.gone(why)
        return why.what if why is not None else ""

    async def _one_process(self, settings: Path) -> int:
        """From start to end of a process; its exit status."""
        kept = self._kept
        self._fatal = None
        self.watch = Watch(time.monotonic())
        try:
            self.process = await WorkerProcess.start(
                kept.id, kept.address, self.known, settings, kept.take, shutter_open=bool(self.held_open)
            )
        except OSError as error:
            what = f"no camera process could be started: {error.strerror or error}"
            kept.absent(Trouble("no-process", what, "Free some memory, or start the service again"))
            return 0
        watching = asyncio.create_task(self._keep_watch(), name=f"camera {kept.id} watch")
        try:
            if self.stopping:
                self.process.kill()
            return await self.process.ended()
        finally:
            watching.cancel()
            await asyncio.wait({watching})
            if self._again is not None:
                self._again.cancel()
            await self.process.close()
            self.process = None

    async def _keep_watch(self) -> None:
        asked = time.monotonic()
        while True:
            await asyncio.sleep(_WATCH_S)
            now = time.monotonic()
            self.watch.slept_over(now - asked - _WATCH_S)
            asked = now
            wrong = self.watch.wrong(now)
            if wrong is not None:
                self.kill(wrong)
                return


def _ending(status: int) -> str:
    return f"signal {-status}" if status < 0 else f"status {status}"
