"""Logs frames until it is killed; prints the number of each one that the store has acknowledged."""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path

from controller.store import Store
from controller.words.documents import FrameState
from tests.store.samples import CAMERA, SHOOT, due, outcome


async def write(path: Path, first: int) -> None:
    store = await Store.open(path)
    seq = first
    while True:
        numbers = range(seq, seq + 4)  # several at once, so that kills also land in shared transactions
        await asyncio.gather(*(_frame(store, number) for number in numbers))
        seq += 4


async def _frame(store: Store, seq: int) -> None:
    await store.intend(due(seq))
    print("intent", seq, flush=True)
    await store.change_frame(SHOOT, seq, CAMERA, state=FrameState.RELEASED)
    print("released", seq, flush=True)
    await store.change_frame(SHOOT, seq, CAMERA, **outcome(seq))
    print("fetched", seq, flush=True)


asyncio.run(write(Path(sys.argv[1]), int(sys.argv[2])))
