"""Whether each frame gets a name of its own, told before anything is copied. Eight bytes a name are kept."""

from __future__ import annotations

from array import array
from hashlib import blake2b

import numpy as np

from controller.results.handover.safe import key


def short(text: str) -> int:
    """64 bits of a text; two texts of one log hardly ever share them."""
    return int.from_bytes(blake2b(text.encode("utf-8", "surrogateescape"), digest_size=8).digest())


class Taken:
    """Names that were given, case not counting."""

    def __init__(self) -> None:
        self._names = array("Q")

    def add(self, name: str) -> None:
        self._names.append(short(key(name)))

    def twice(self) -> set[int]:
        """`short(key(name))` of some of those that stand more than once; nearly always that is none."""
        names = np.sort(np.frombuffer(self._names, dtype=np.uint64)) if self._names else np.zeros(0, np.uint64)
        return {int(each) for each in names[1:][names[1:] == names[:-1]][:100]}


class Lines:
    """Texts that were seen, to ask whether one was among them."""

    def __init__(self, texts: array[int]) -> None:
        self._sorted = np.sort(np.frombuffer(texts, dtype=np.uint64)) if texts else np.zeros(0, np.uint64)

    def __contains__(self, text: str) -> bool:
        wanted = np.uint64(short(text))
        place = int(np.searchsorted(self._sorted, wanted))
        return place < len(self._sorted) and bool(self._sorted[place] == wanted)

    def __len__(self) -> int:
        return len(self._sorted)
