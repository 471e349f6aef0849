"""Small regular work while the machine's clock is put forward and back by years."""

from __future__ import annotations

import asyncio
import time
from datetime import datetime, tzinfo
from typing import Self

import pytest

from controller.engine.chores import Chores
from tests.support.rigs import until

YEARS_S = 10 * 365.25 * 86_400.0


@pytest.mark.parametrize("step_s", [-YEARS_S, -3600.0, 3600.0, YEARS_S])
async def test_chores_and_alarms_go_on(step_s: float, monkeypatch: pytest.MonkeyPatch) -> None:
    real, off = time.time, [0.0]

    class Stepped(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Self:
            return cls.fromtimestamp(time.time(), tz)

    monkeypatch.setattr(time, "time", lambda: real() + off[0])
    monkeypatch.setattr("apscheduler.schedulers.base.datetime", Stepped)
    monkeypatch.setattr("controller.engine.chores.datetime", Stepped)
    monkeypatch.setattr("controller.engine.chores.LOOK_EVERY_S", 0.05)
    done, woken = [], []

    async def work() -> None:
        done.append(1)

    chores = Chores()
    chores.every(0.02, "small", work)
    chores.wake("shoot", 3.0, lambda: woken.append(1))
    chores.start()
    try:
        await until(lambda: len(done) >= 3)
        off[0] = step_s
        so_far = len(done)
        await until(lambda: len(done) >= so_far + 10)
        await until(lambda: bool(woken))
    finally:
        chores.stop()


async def test_work_that_is_under_way_at_the_end_ends_without_a_traceback(caplog: pytest.LogCaptureFixture) -> None:
    begun, ended = asyncio.Event(), asyncio.Event()

    async def work() -> None:
        begun.set()
        try:
            await asyncio.Event().wait()
        finally:
            ended.set()

    chores = Chores()
    chores.every(0.01, "long", work)
    chores.start()
    async with asyncio.timeout(30):
        await begun.wait()
        chores.stop()
        await ended.wait()
    await asyncio.sleep(0)  # what logs it comes after
    assert not caplog.records
