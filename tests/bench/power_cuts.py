"""The power of the rig's disk cut at random moments of running shoots: the same questions as of `tests.bench.kills`.

`python -m tests.bench.power_cuts [--ends 50] [--each 10] [--seed 1] [--jobs 2]`, as root: the rig's directory is an
ext4 file system of its own. What a cut is here stands in `tests/support/loop_disk.py`. The daemon is killed right after
it; file system checked and mounted, it is started again. The camera has its own battery. Exit status 1 where a shoot
was not well, 2 where there are no such disks.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.bench.abrupt import main
from tests.support.endings import Endings, draw, shoot_through
from tests.support.loop_disk import LoopDisk, alone, why_not
from tests.support.service import Service


def one(seed: int, ends: int, directory: Path) -> Endings:
    try:
        alone()
        reason = why_not(directory)
    except OSError as error:
        reason = str(error)
    if reason is not None:
        print(reason, file=sys.stderr)
        sys.exit(2)
    disk = LoopDisk(directory / "rig")

    def cut(service: Service) -> None:
        disk.cut()
        service.kill()
        disk.power_again()

    try:
        return shoot_through(draw(seed), directory, disk.directory, ends, cut)
    finally:
        disk.unmount()


if __name__ == "__main__":
    sys.exit(main("tests.bench.power_cuts", __doc__ or "", one, ends=50, each=10))
