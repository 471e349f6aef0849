"""Standard input, output and error as a command finds them: closed, on a full disk, with few letters, or unread."""

from __future__ import annotations

import codecs
import contextlib
import errno
import io
import os
import sys
from pathlib import Path

from controller.commands.drawing import ASCII
from controller.commands.out_file import TROUBLED, unwritten
from controller.words.errors import DuskhandError

UNREAD = 141
"""Exit code where who read has had enough: 128 and SIGPIPE, as shells tell of other programs."""

_SPELT = "duskhand-spelt"


def _spelt(error: UnicodeError) -> tuple[str, int]:
    """What the encoding lacks, in plain letters where there are some, else escaped as in JSON."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lacking = error.object[error.start : error.end].translate(ASCII)
    units = lacking.encode("utf-16-be", "surrogatepass")
    if not lacking.isascii():
        lacking = "".join(f"\\u{units[k]:02x}{units[k + 1]:02x}" for k in range(0, len(units), 2))
    return lacking, error.end


def prepare() -> None:
    """Have all three: a stream that was closed reads as empty, and takes what nobody is to see."""
    codecs.register_error(_SPELT, _spelt)
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open(mode))  # noqa: SIM115  it is open as long as the command runs
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=_SPELT)


def give_up() -> None:
    """What is still to be written goes nowhere, else the interpreter tries it once more at its end, and complains."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:
            with contextlib.suppress(OSError, ValueError), Path(os.devnull).open("w") as nowhere:
                os.dup2(nowhere.fileno(), stream.fileno())


def tell(line: str) -> None:
    """A line on standard output from what must go on whether or not anybody reads it."""
    try:
        print(line, flush=True)
    except OSError:
        give_up()


def complain(line: str) -> None:
    """A line on standard error, where that takes one: the exit code tells the rest."""
    with contextlib.suppress(OSError):
        print(line, file=sys.stderr)


def not_printed(error: OSError) -> DuskhandError:
    """What standard output met, for people. Raises `error` where it is of something else."""
    if error.filename is not None or error.errno not in (*TROUBLED, errno.EBADF):
        raise error
    if error.errno == errno.EBADF:
        return DuskhandError("not-writable", "cannot be written", "standard output", "Give it a file or a pipe")
    return unwritten(error, Path("standard output"), "--csv")
