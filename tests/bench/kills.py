"""The service killed at random moments of running shoots: is every frame known, and once, and how soon does it go on?

`python -m tests.bench.kills [--ends 500] [--each 25] [--seed 1] [--jobs 2]`: SIGKILL to the daemon, whose camera
process dies with it; it is started again at once. After each kill a copy of the database is checked. Exit status 1
where a shoot was not well.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.bench.abrupt import main
from tests.support.endings import Endings, draw, shoot_through
from tests.support.service import Service


def one(seed: int, ends: int, directory: Path) -> Endings:
    return shoot_through(draw(seed), directory, directory / "rig", ends, Service.kill)


if __name__ == "__main__":
    sys.exit(main("tests.bench.kills", __doc__ or "", one, ends=500, each=25))
