"""`duskhand serve` on a clock that runs faster than the wall's: a program, so that it can be killed.

`python -m tests.support.fast_service DIR ADDRESS RATE EPOCH_MONO EPOCH_UTC [FILE]` says what `duskhand serve` says.
FILE holds by how many seconds its wall clock is off, and can be put anew while it runs.
"""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path

from controller.commands.service import on_signal, serving, start_log
from controller.daemon import Rig
from controller.words.clock import ScaledClock


class PutClock(ScaledClock):
    """Off by what a file says."""

    def __init__(self, epoch_utc: float, epoch_mono: float, rate: float, off: Path) -> None:
        super().__init__(epoch_utc, epoch_mono, rate)
        self._off = off

    def utc(self) -> float:
        return super().utc() + float(self._off.read_text())


async def main(directory: Path, address: str, clock: ScaledClock) -> None:
    start_log()
    stop = asyncio.Event()
    on_signal(stop)
    rig = Rig(directory, clock, [address])
    async with serving(rig, "127.0.0.1", 0) as server:
        print(f"Duskhand serves {server.url} from {directory}", flush=True)
        await stop.wait()


if __name__ == "__main__":
    rate, epoch_mono, epoch_utc = map(float, sys.argv[3:6])
    plain = ScaledClock(epoch_utc, epoch_mono, rate)
    put = PutClock(epoch_utc, epoch_mono, rate, Path(sys.argv[6])) if len(sys.argv) > 6 else plain
    asyncio.run(main(Path(sys.argv[1]), sys.argv[2], put))
