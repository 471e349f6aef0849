"""A log on a disk that has filled up: a start opens it, and what it cannot take is told in words that help."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.whole.test_disk_full import small_disk

ROOT = Path(__file__).parents[2]

SCRIPT = """
import asyncio, sys
from pathlib import Path
from controller.store import Store
from controller.words.errors import StoreError
from tests.store.samples import due, shoot
from tests.whole.test_disk_full import fill

async def main(path, spare):
    async with await Store.open(path) as store:
        await store.add_shoot(shoot())
    beside = path.with_name(path.name + "-spare")
    assert beside.stat().st_blocks * 512 >= 1 << 19
    if not spare:
        beside.unlink()
    full = fill(path.parent)
    try:
        async with await Store.open(path) as store:
            print("opened", [each.state for each in await store.open_shoots()])
    except StoreError as error:
        print(error.code, error.remedy)
    full.unlink()
    async with await Store.open(path) as store:
        await store.intend(due(1))
        print("again", beside.exists())

asyncio.run(main(Path(sys.argv[1]), sys.argv[2] == "spare"))
"""


@pytest.mark.parametrize(
    ("spare", "said"),
    [("spare", "opened [<ShootState.SHOOTING: 'shooting'>]"), ("none", "disk-full Free some space on that disk")],
)
def test_a_start_on_a_full_disk(tmp_path: Path, spare: str, said: str) -> None:
    """The shoot is there to be taken up; without the spare room the words are those of a full disk."""
    command = [*small_disk(tmp_path, 3), sys.executable, "-c", SCRIPT, str(tmp_path / "frames.sqlite3"), spare]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)
    if "unshare" in done.stderr or "mount:" in done.stderr:
        pytest.skip(done.stderr.strip())
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == [said, "again True"]
