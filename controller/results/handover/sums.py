"""SHA256SUMS: what every file of a folder was when it was written, in the form that `sha256sum --check` reads.

A line is the digest, two spaces and the name; where the name holds a backslash, a line feed or a carriage return the
line begins with a backslash, and these are written as two backslashes, \\n and \\r (GNU coreutils manual, "cksum
output modes").
"""

from __future__ import annotations

import re
from array import array
from pathlib import Path

from controller.results.handover.taken import Lines, short

NAME = "SHA256SUMS"
_ESCAPES = {"\\": "\\\\", "\n": "\\n", "\r": "\\r"}


def line(sha256: str, name: str) -> bytes:
    """With its line feed; a name that is no UTF-8 keeps its bytes."""
    spelt = re.sub(r"[\\\n\r]", lambda found: _ESCAPES[found[0]], name)
    mark = "\\" if spelt != name else ""
    return f"{mark}{sha256}  {spelt}\n".encode("utf-8", "surrogateescape")


def known(path: Path) -> Lines:
    """The lines of an earlier run, to ask whether a file was written as it is; none where there is no such file."""
    found = array("Q")
    try:
        with path.open("rb") as file:
            for each in file:
                found.append(short(each.decode("utf-8", "surrogateescape")))
    except OSError:  # then every file is read instead
        return Lines(array("Q"))
    return Lines(found)


def was(lines: Lines, sha256: str, name: str) -> bool:
    """Whether this file was written with this content."""
    return line(sha256, name).decode("utf-8", "surrogateescape") in lines
