"""The loop on virtual time: asyncio's own tasks and time-outs, with nothing to wait for."""

from __future__ import annotations

import asyncio
import threading
import time

import pytest

from controller.rehearsal.loop import VirtualLoop
from controller.words.clock import VirtualClock, sleep_until


def play(work):
    clock = VirtualClock(1000.0)
    return VirtualLoop(clock).run_until_complete(work(clock))


def test_a_day_of_sleep_takes_a_day_of_its_own_clock_only():
    async def work(clock):
        await asyncio.sleep(86_400)
        await sleep_until(clock, 90_000)
        return clock.mono(), clock.utc()

    begun = time.process_time()
    assert play(work) == (90_000, 91_000)
    assert time.process_time() - begun < 60  # not a day


def test_what_waits_longer_comes_later_and_equals_come_in_order():
    async def work(clock):
        order = []

        async def one(name, seconds):
            await asyncio.sleep(seconds)
            order.append((name, clock.mono()))

        await asyncio.gather(one("late", 3), one("first", 1), one("second", 1), one("at once", 0))
        return order

    assert play(work) == [("at once", 0), ("first", 1), ("second", 1), ("late", 3)]


def test_time_outs_run_on_the_same_clock():
    async def work(clock):
        with pytest.raises(TimeoutError):
            await asyncio.wait_for(asyncio.get_running_loop().create_future(), 12)
        with pytest.raises(TimeoutError):
            async with asyncio.timeout(3):
                await asyncio.sleep(9)
        timed_out = clock.mono()
        task = asyncio.ensure_future(asyncio.sleep(5, "done"))
        done, pending = await asyncio.wait({task}, timeout=2)
        assert (done, pending) == (set(), {task})
        return timed_out, clock.mono(), await task, clock.mono()

    assert play(work) == (15, 17, "done", 20)


def test_other_threads_are_not_needed():
    async def work(clock):
        return await asyncio.to_thread(threading.get_ident)

    assert play(work) == threading.get_ident()


def test_a_cancelled_timer_is_not_called():
    async def work(clock):
        called = []
        loop = asyncio.get_running_loop()
        loop.call_later(1, called.append, "no").cancel()
        loop.call_soon(called.append, "no").cancel()
        loop.call_later(2, called.append, "yes")
        await asyncio.sleep(3)
        return called

    assert play(work) == ["yes"]


def test_waiting_for_what_cannot_come_is_told():
    async def work(clock):
        await asyncio.get_running_loop().create_future()

    with pytest.raises(RuntimeError, match="cannot come"):
        play(work)


def test_what_nobody_catches_ends_it():
    async def work(clock):
        async def breaks():
            raise ZeroDivisionError("planted")

        asyncio.ensure_future(breaks())  # noqa: RUF006  lost on purpose
        await asyncio.sleep(1)
        await asyncio.sleep(1)

    with pytest.raises(ZeroDivisionError):
        play(work)


async def test_the_loop_around_it_goes_on_afterwards():
    async def work(clock):
        await asyncio.sleep(100)
        return asyncio.get_running_loop()

    outer = asyncio.get_running_loop()
    assert play(work) is not outer
    assert asyncio.get_running_loop() is outer
    await asyncio.sleep(0)
