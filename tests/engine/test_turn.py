"""Whose turn it is with a camera, where one shoot ends and another waits."""

from __future__ import annotations

import asyncio
from types import SimpleNamespace
from typing import Any

from controller.engine.turn import Turn


def run() -> Any:
    return SimpleNamespace(stop_event=asyncio.Event())


async def test_who_gives_the_camera_back_and_asks_again_does_not_wait_for_the_next_ones_end() -> None:
    """A shoot that was stopped, and has frames left to see to: the one that waits for its camera has it for hours."""
    turn, stopped, second = Turn(), run(), run()
    assert await turn.taken(stopped)
    waits = asyncio.create_task(turn.taken(second))
    while not turn.waiting:
        await asyncio.sleep(0)
    await asyncio.sleep(0)
    stopped.stop_event.set()
    turn.release()
    async with asyncio.timeout(10):  # the one that waited does not know of it yet
        assert not await turn.taken(stopped)
    assert await waits
    assert turn.owner is second
    turn.release()
    assert await turn.taken(run())


async def test_a_run_that_was_stopped_takes_a_camera_that_is_free_for_its_last_frames() -> None:
    turn, stopped = Turn(), run()
    stopped.stop_event.set()
    assert await turn.taken(stopped)
    assert turn.owner is stopped
