"""`duskhand serve` on a machine whose wall clock is off by as many seconds as a file says, and can be put anew.

Put before a command, as `Service` does: `python -m tests.support.stepped FILE python -m controller serve …`. All that
the daemon learns of the wall's clock comes through `time.time` and APScheduler's `datetime.now`; what never steps is
the machine's own.
"""

from __future__ import annotations

import datetime
import sys
import time
from pathlib import Path
from typing import Self

_real = time.time


class Stepped(datetime.datetime):
    """As the stepped clock says."""

    @classmethod
    def now(cls, tz: datetime.tzinfo | None = None) -> Self:
        return cls.fromtimestamp(time.time(), tz)


def main() -> int:
    off = Path(sys.argv[1])
    time.time = lambda: _real() + float(off.read_text() or 0.0)
    import apscheduler.schedulers.base

    import controller.engine.chores

    apscheduler.schedulers.base.datetime = Stepped
    controller.engine.chores.datetime = Stepped  # type: ignore[misc]
    from controller.commands import main as duskhand

    return duskhand(sys.argv[5:])


if __name__ == "__main__":
    sys.exit(main())
