"""`duskhand serve` on a clock that runs faster than the wall's: a program, so that it can be killed.

`python -m tests.support.fast_service DIR ADDRESS RATE EPOCH_MONO EPOCH_UTC` says what `duskhand serve` says.
"""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path

from controller.commands.service import on_signal, serving, start_log
from controller.daemon import Rig
from controller.words.clock import ScaledClock


async def main(directory: Path, address: str, rate: float, epoch_mono: float, epoch_utc: float) -> None:
    start_log()
    stop = asyncio.Event()
    on_signal(stop)
    rig = Rig(directory, ScaledClock(epoch_utc, epoch_mono, rate), [address])
    async with serving(rig, "127.0.0.1", 0) as server:
        print(f"Duskhand serves {server.url} from {directory}", flush=True)
        await stop.wait()


if __name__ == "__main__":
    asyncio.run(main(Path(sys.argv[1]), sys.argv[2], *map(float, sys.argv[3:6])))
