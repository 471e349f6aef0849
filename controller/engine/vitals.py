"""Whether the rig really goes on, for a watchdog that restarts what hangs.

What a restart cannot heal is no reason for one: a camera that is away or a disk that is full is told elsewhere, and the
rig goes on as well as it can.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence

from controller.camera.link import CameraLink
from controller.engine.shoots import Shoots
from controller.store import Store
from controller.words.errors import StoreError

OVERDUE_S = 60.0
"""Wall seconds by which a slot may be over, beyond its exposure, before the engine counts as stuck."""

WRITE_S = 30.0
"""Seconds for the log's writer to answer; a card that is tired takes long over a write now and then."""


def stuck(shoots: Shoots) -> list[str]:
    """Shoots whose slot in hand is long over."""
    return sorted({run.shoot.id for run in shoots.all_runs if run.slots.overdue_s() > OVERDUE_S})


async def trouble(shoots: Shoots, links: Sequence[CameraLink], store: Store) -> str | None:
    """What does not go on, in words; None where all does. Takes WRITE_S at most."""
    if hung := stuck(shoots):
        return f"the engine is stuck in {', '.join(hung)}"
    if alone := [link.id for link in links if not link.kept]:
        return f"nobody looks after {', '.join(alone)}"
    try:
        await asyncio.wait_for(store.touch(), WRITE_S)
    except TimeoutError:
        return "the frame log's writer does not answer"
    except StoreError:
        pass  # it answers; what is wrong with the disk is told where it is noticed
    if store.damage is not None:
        return "the frame log is damaged; the next start makes it anew"
    return None
