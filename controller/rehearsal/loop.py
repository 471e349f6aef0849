"""An event loop whose time is a virtual clock's: whatever waits, waits no longer than it takes to work.

Tasks and futures are asyncio's own. Where nothing is ready the clock is moved to the next moment that anything waits
for, so that `asyncio.sleep` and every time-out run on the same time as the shoot. There is one thread: what is asked to
run in another runs at once. Nothing here touches the machine, and the order of things depends on nothing but the plan.
"""

from __future__ import annotations

import asyncio
import contextvars
from collections import deque
from collections.abc import Callable, Coroutine
from functools import partial
from typing import Any, TypeVar

from controller.words.clock import Timer, VirtualClock

T = TypeVar("T")


class _Ready(asyncio.Handle):
    """A callback that runs at the next turn; made without asyncio's own `__init__`, which does more than is needed."""

    __slots__ = ()
    _callback: Callable[..., object]
    _args: tuple[Any, ...]
    _context: contextvars.Context | None

    def cancel(self) -> None:
        self._cancelled = True


class _Later(asyncio.TimerHandle):
    """A callback that waits for its moment on the clock."""

    __slots__ = ("timer",)
    timer: Timer

    def cancel(self) -> None:
        self.timer.cancel()
        super().cancel()


class VirtualLoop(asyncio.AbstractEventLoop):
    """Runs one coroutine to its end on `clock`."""

    def __init__(self, clock: VirtualClock) -> None:
        self._clock = clock
        self._queue: deque[_Ready] = deque()
        self._running = False
        self._broken: BaseException | None = None
        self.create_future = partial(asyncio.Future, loop=self)  # type: ignore[method-assign]  # no call between

    # ---- running

    def run_until_complete(self, future: Coroutine[Any, Any, T]) -> T:  # type: ignore[override]
        """The result of a coroutine. Raises what it raises, or RuntimeError where it waits for what cannot come."""
        before = asyncio._get_running_loop()
        asyncio._set_running_loop(self)
        self._running = True
        try:
            main = self.create_task(future)
            self._turn_until(main)
            return main.result()
        finally:
            self._running = False
            asyncio._set_running_loop(before)

    def _turn_until(self, main: asyncio.Future[Any]) -> None:
        queue, advance = self._queue, self._clock.advance
        while not main.done():
            if not queue and not advance():
                raise RuntimeError("the rehearsal waits for something that cannot come")
            while queue:
                ready = queue.popleft()
                if ready._cancelled:
                    continue
                if ready._context is None:
                    ready._callback(*ready._args)
                else:
                    ready._context.run(ready._callback, *ready._args)
            if self._broken is not None:
                raise self._broken

    # ---- what tasks and futures ask of a loop

    def call_soon(  # type: ignore[override]
        self, callback: Callable[..., object], *args: Any, context: contextvars.Context | None = None
    ) -> asyncio.Handle:
        ready = _Ready.__new__(_Ready)
        ready._callback, ready._args, ready._context, ready._cancelled = callback, args, context, False
        self._queue.append(ready)
        return ready

    def call_later(  # type: ignore[override]
        self, delay: float, callback: Callable[..., object], *args: Any, context: contextvars.Context | None = None
    ) -> asyncio.TimerHandle:
        return self.call_at(self.time() + delay, callback, *args, context=context)

    def call_at(  # type: ignore[override]
        self, when: float, callback: Callable[..., object], *args: Any, context: contextvars.Context | None = None
    ) -> asyncio.TimerHandle:
        later = _Later(when, callback, args, self, context)
        later.timer = self._clock.call_at(when, lambda: self.call_soon(callback, *args, context=context))
        return later

    def time(self) -> float:
        return self._clock.mono()

    def create_task(  # type: ignore[override, unused-ignore]  # only Python 3.12 has this very signature
        self, coro: Coroutine[Any, Any, T], *, name: str | None = None, context: contextvars.Context | None = None
    ) -> asyncio.Task[T]:
        return asyncio.Task(coro, loop=self, name=name, context=context)

    async def run_in_executor(  # type: ignore[override]
        self, executor: object, func: Callable[..., T], *args: Any
    ) -> T:
        return func(*args)

    def get_debug(self) -> bool:
        return False

    def is_running(self) -> bool:
        return self._running

    def is_closed(self) -> bool:
        return False

    def call_exception_handler(self, context: dict[str, Any]) -> None:
        """What nobody caught ends the rehearsal, the first of them: a fault must not pass for a result."""
        if self._broken is not None:
            return
        exception = context.get("exception")
        self._broken = exception if isinstance(exception, BaseException) else RuntimeError(str(context.get("message")))

    def _timer_handle_cancelled(self, handle: asyncio.TimerHandle) -> None:
        """Nothing is kept beside the clock's own timer."""
