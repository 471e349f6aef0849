"""A little room that is given up where the disk is full at a start: SQLite needs some to open a database at all.

A rig whose disk has filled up shoots on, with what it would log in its memory. Without this room a restart would end
that: the log could not be opened, and nothing is released that has no log.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from controller.store.files import beside

ENDING = "-spare"
BYTES = 512 << 10
"""For the write-ahead log's index, which takes 32 KiB, and the log's own first pages."""


def keep(path: Path) -> None:
    """Have the room beside the database at `path`, where the disk has it to give."""
    spare = beside(path, ENDING)
    if spare.exists():
        return
    with contextlib.suppress(OSError):  # the disk is full now; another start finds room again
        handle = os.open(spare, os.O_WRONLY | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            os.posix_fallocate(handle, 0, BYTES)
        except OSError:
            spare.unlink()
            raise
        finally:
            os.close(handle)


def give(path: Path) -> bool:
    """Give it up; whether there was any."""
    try:
        beside(path, ENDING).unlink()
    except OSError:
        return False
    return True
