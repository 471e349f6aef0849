"""What checking a frame log takes, and making it anew from the pictures on the rig.

Beside reading the file once, and as many bare inserts of SQLite.

`python -m tests.bench.anew [FRAMES]` (100,000): a log of so many frames with a small picture of each; SQLite's
quick_check of it; then the database is spoilt and made anew.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from controller.engine.anew import make_anew
from controller.store import Store, damage
from controller.store.files import database_path, preview_path
from controller.words.clock import WallClock
from controller.words.documents import Frame, FrameState, Shoot, ShootState
from tests.bench.log_writes import bare, inserted
from tests.bench.rigs import machine, plan, ratio

BATCH = 1000


async def main(count: int, directory: Path) -> None:
    path = database_path(directory)
    shoot = Shoot(
        id="months", plan_name="months", plan=plan("months", 10.0, 0.1, count), state=ShootState.SHOOTING,
        created_utc=1.79e9, start_utc=1.79e9,
    )  # fmt: skip
    async with await Store.open(path) as store:
        await store.add_shoot(shoot)
        for first in range(1, count + 1, BATCH):
            await store.add_missed([_frame(seq) for seq in range(first, first + BATCH)])
    previews = (directory / preview_path("months", 1)).parent
    previews.mkdir()
    for seq in range(1, count + 1):
        (previews / f"{seq:06d}.jpg").write_bytes(b"picture")
    print(machine())
    size = path.stat().st_size
    print(f"frames       {count}, {size / 1e6:.1f} MB")
    floor_s = _took(lambda: path.read_bytes())
    print(f"read once    {floor_s:.3f} s, the floor")
    checked_s = _took(lambda: damage.check(path))
    print(f"quick_check  {checked_s:.3f} s, {ratio(checked_s, floor_s)}")
    path.write_bytes(b"spoilt" * 1000)
    begun = time.monotonic()
    async with await Store.open(path) as store:
        await make_anew(store, directory, WallClock())
        took_s, written = time.monotonic() - begun, (await store.counts("months")).written
    with closing(bare(directory / "bare.sqlite3")) as connection:
        begun = time.monotonic()
        await inserted(connection, count // BATCH, BATCH)
        floor_s = time.monotonic() - begun
    print(f"made anew    {took_s:.2f} s, {written} frames; bare inserts {floor_s:.2f} s, {ratio(took_s, floor_s)}")


def _frame(seq: int) -> Frame:
    file = f"/store/DCIM/100ABCDE/IMG_{seq:06d}.JPG"
    return Frame(
        shoot="months", seq=seq, camera="camera-1", due_utc=1.79e9 + 10.0 * seq, released_utc=1.79e9 + 10.0 * seq,
        late_ms=0.1, interval_s=10.0, shutter_s=0.1, aperture=5.6, iso=400.0, state=FrameState.WRITTEN,
        camera_file=file, preview=True,
    )  # fmt: skip


def _took(work: Callable[[], object]) -> float:
    begun = time.monotonic()
    work()
    return time.monotonic() - begun


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        asyncio.run(main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000, Path(name)))
