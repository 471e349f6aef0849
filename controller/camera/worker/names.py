"""The files of a card that were seen, in the room of a few: of a night only where its numbers begin and end."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable

_NUMBER = re.compile(r"\d{4}(?=\.[^./]*$|$)")  # DCF (CIPA DC-009, section 3): a name ends in four digits


def number(path: str) -> int | None:
    """The DCF number of a file, None where its name carries none."""
    found = _NUMBER.search(path)
    return int(found[0]) if found else None


class Names:
    """A set of paths that only grows. Those that differ in their number alone are kept as runs of numbers."""

    def __init__(self, paths: Iterable[str] = ()) -> None:
        self._runs: dict[tuple[str, str], list[list[int]]] = {}  # before and after the number: first and last, upwards
        self._others: set[str] = set()
        for path in paths:
            self.add(path)

    def __contains__(self, path: str) -> bool:
        found = _NUMBER.search(path)
        if found is None:
            return path in self._others
        runs = self._runs.get((path[: found.start()], path[found.end() :]), [])
        place = bisect_right(runs, int(found[0]), key=lambda run: run[0])
        return place > 0 and int(found[0]) <= runs[place - 1][1]

    def add(self, path: str) -> None:
        found = _NUMBER.search(path)
        if found is None:
            self._others.add(path)
            return
        number = int(found[0])
        runs = self._runs.setdefault((path[: found.start()], path[found.end() :]), [])
        place = bisect_right(runs, number, key=lambda run: run[0])
        if place and number <= runs[place - 1][1]:
            return
        below = place > 0 and runs[place - 1][1] == number - 1
        above = place < len(runs) and runs[place][0] == number + 1
        if below and above:
            runs[place - 1][1] = runs.pop(place)[1]
        elif below:
            runs[place - 1][1] = number
        elif above:
            runs[place][0] = number
        else:
            runs.insert(place, [number, number])
