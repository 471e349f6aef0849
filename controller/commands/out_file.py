"""A file that a command was asked to write: put in place when it is whole; whose fault it is where it cannot be."""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Iterator
from pathlib import Path

from controller.words.errors import BadInput, DuskhandError
from controller.words.no_room import FULL

TROUBLED = FULL | {errno.EIO}
"""Of a disk that is full or broken: no other name on it would do."""


def unwritten(error: OSError, path: Path, option: str) -> DuskhandError:
    """BadInput where another file must be named with `option`; else the name is good, and the disk failed."""
    what = f"cannot be written: {error.strerror or error}"
    if error.errno in TROUBLED:
        remedy = "Free some space there, or look at the disk"
        return DuskhandError("not-writable", what, str(path), remedy, True)
    return BadInput("not-writable", what, str(path), f"Choose another file with {option}")


@contextlib.contextmanager
def in_place(name: str, option: str) -> Iterator[Path]:
    """Where to write what takes the name once it is whole. Raises DuskhandError('not-writable')."""
    path = Path(name)
    special = path.exists() and not path.is_file()  # a device or a pipe is written to, never replaced
    path = path if special else path.resolve()  # what a link points to is written, not the link
    temporary = path if special else path.with_name(path.name + ".part")
    try:
        try:
            yield temporary
            if not special:
                temporary.replace(path)
        except BaseException:
            if not special:
                temporary.unlink(missing_ok=True)
            raise
    except BrokenPipeError:  # who reads the special file has had enough
        raise
    except OSError as error:
        raise unwritten(error, path, option) from error
