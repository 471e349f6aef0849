"""Where in a TOML text a key stands: tomllib tells no positions of what it has read."""

from __future__ import annotations

import tomllib
from bisect import bisect_left
from collections.abc import Sequence
from typing import Any

_CLOSERS = ("", "\n]", "\n]]")  # of lists that are open at a line's end
_ATTEMPTS = 600  # a text in which it takes more is none that a person wrote


def line_of(text: str, place: Sequence[str | int]) -> int | None:
    """The line, from 1, on which `place`, or as much of it as there is, begins. `text` is TOML that can be read.

    It ends the shortest beginning of the text that holds the place. None where nothing of the place is there.
    """
    document = tomllib.loads(text)
    there = list(place)
    while there and not _holds(document, there):
        there.pop()
    if not there:
        return None
    lines = text.replace("\r\n", "\n").split("\n")
    left = _ATTEMPTS

    def begun(count: int) -> bool:
        """Whether the place is there once `count` lines, and what has to follow for them to be whole, are read."""
        nonlocal left
        for end in range(count, len(lines) + 1):
            left -= 1
            if left < 0:
                raise TimeoutError
            if found := [read for closer in _CLOSERS if (read := _read(lines[:end], closer)) is not None]:
                return any(_holds(read, there) for read in found)
        return True

    try:
        return bisect_left(range(1, len(lines) + 1), True, key=begun) + 1
    except TimeoutError:
        return None


def _read(lines: Sequence[str], closer: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads("\n".join(lines) + closer)
    except (ValueError, RecursionError):
        return None


def _holds(document: Any, place: Sequence[str | int]) -> bool:
    for part in place:
        try:
            document = document[part]
        except (KeyError, IndexError, TypeError):
            return False
    return True
