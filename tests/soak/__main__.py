"""A compressed fortnight: is every frame of it known, and once, when all is over?

`python -m tests.soak [--days 14] [--minutes 32] [--seed 1] [--keep DIR]`: a window each evening, half a minute of the
scene a second, three faults in each, and nights in which the rig runs on while its clock is put to the next day, is
stopped, or loses its power; the camera is off until the next window. As root the rig's directory is a small disk of its
own, which is filled. In the end log, files and the camera's own record are held against each other. Exit status 1 where
something was not well. A fortnight takes less than 20 minutes.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from pathlib import Path

from tests.bench.outcomes import print_sums
from tests.bench.rigs import machine
from tests.soak.days import draw
from tests.soak.fortnight import Fortnight, Soaked
from tests.support.loop_disk import LoopDisk, alone

DISK_MB = 192


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.soak", description=__doc__)
    parser.add_argument("--days", type=int, default=14)
    parser.add_argument("--minutes", type=float, default=32.0, help="of the scene in each window (%(default)s)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="keep here the directory of one that was not well")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="soak-") as name:
        directory = Path(name)
        disk = _own_disk(directory / "rig")
        try:
            result = Fortnight(args.seed, draw(args.seed, args.days), args.minutes, directory, directory / "rig").run()
            if args.keep is not None and not result.well:
                shutil.copytree(directory, args.keep / str(args.seed), ignore=shutil.ignore_patterns("*.img"))
        finally:
            if disk is not None:
                disk.unmount()
    _print(result)
    return 0 if result.well else 1


def _own_disk(directory: Path) -> LoopDisk | None:
    try:
        alone()
        return LoopDisk(directory, DISK_MB)
    except OSError as error:
        print(f"the rig has no disk of its own: {error}", file=sys.stderr)
        directory.mkdir(exist_ok=True)
        return None


def _print(result: Soaked) -> None:
    outcome = result.outcome
    print(machine())
    print(f"days              {result.days} in {outcome.took_s:.0f} s; the shoot ended as {outcome.state}")
    print(f"events            {', '.join(f'{number} {kind}' for kind, number in sorted(result.kinds.items()))}")
    print_sums([outcome])
    for line in (*outcome.log_lacks, *outcome.camera_lacks, *outcome.misplaced, *outcome.trouble):
        print(f"not well: {line}")
    for line in result.windows_empty:
        print(f"hardly shot: the window of {line}")
    for line in dict.fromkeys(result.left_out):
        print(f"left out: {line}")


if __name__ == "__main__":
    sys.exit(main())
