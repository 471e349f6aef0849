"""Clocks as arguments."""

import asyncio
import time

from controller.words.clock import ScaledClock, VirtualClock, WallClock, sleep_until


async def test_the_virtual_clock_moves_only_when_told_and_in_order():
    clock = VirtualClock(1000.0)
    woken: list[tuple[str, float]] = []

    async def sleeper(name: str, mono: float) -> None:
        await sleep_until(clock, mono)
        woken.append((name, clock.utc()))

    tasks = [asyncio.create_task(sleeper(n, m)) for n, m in (("late", 50.0), ("early", 5.0), ("never", 99.0))]
    await asyncio.sleep(0)
    assert (clock.mono(), woken) == (0.0, [])
    tasks[2].cancel()
    await asyncio.sleep(0)
    for _ in range(2):
        assert clock.advance()
        await asyncio.sleep(0)
    assert woken == [("early", 1005.0), ("late", 1050.0)]
    assert not clock.advance()
    await asyncio.gather(*tasks, return_exceptions=True)


def test_the_scaled_clock_and_the_wall_agree_on_every_moment():
    clock = ScaledClock(1_000_000.0, 500.0, 40.0)
    assert clock.from_wall(501.0) == 40.0
    assert clock.to_wall(40.0) == 501.0
    assert ScaledClock(0.0, time.monotonic() - 10.0, 40.0).mono() >= 400.0


async def test_timers_of_every_clock_fire_and_can_be_called_off():
    for clock in (WallClock(), ScaledClock(0.0, time.monotonic(), 100.0)):
        fired: list[str] = []
        done = asyncio.Event()
        clock.call_at(clock.mono() + 0.001, lambda: fired.append("off")).cancel()  # noqa: B023
        clock.call_at(clock.mono() + 0.01, done.set)
        await asyncio.wait_for(done.wait(), 5)
        assert fired == []
