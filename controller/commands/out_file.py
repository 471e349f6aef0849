"""A file that a command was asked to write, and that could not be written: whose fault that is."""

from __future__ import annotations

import errno
from pathlib import Path

from controller.words.errors import BadInput, DuskhandError

FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)


def unwritten(error: OSError, path: Path, option: str) -> DuskhandError:
    """BadInput where another file must be named with `option`; else the name is good, and the disk failed."""
    what = f"cannot be written: {error.strerror or error}"
    if error.errno in FULL:
        remedy = "Free some space there, or look at the disk"
        return DuskhandError("not-writable", what, str(path), remedy, True)
    return BadInput("not-writable", what, str(path), f"Choose another file with {option}")
