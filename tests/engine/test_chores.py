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


async def test_a_fault_of_ours_is_told_once_while_it_stays_the_same(caplog: pytest.LogCaptureFixture) -> None:
    told: list[str] = []
    faults = (
        [ZeroDivisionError("planted")] * 3 + [None, None] + [ZeroDivisionError("planted")] * 2 + [KeyError("other")]
    )
    turns = iter(faults)

    async def tell(text: str) -> None:
        told.append(text)

    async def work() -> None:
        if (fault := next(turns, None)) is not None:
            raise fault

    chores = Chores(tell)
    chores.every(0.01, "disk", work)
    chores.start()
    try:
        await until(lambda: len(told) >= 3)
    finally:
        chores.stop()
    assert told == [
        "disk: internal trouble: planted; it is tried again at its next turn",
        "disk: internal trouble: planted; it is tried again at its next turn",
        "disk: internal trouble: 'other'; it is tried again at its next turn",
    ]
    assert [record.name for record in caplog.records] == ["controller.engine.chores"] * 3
