"""Where a slot stands in its bracket: from its number alone, so that missed slots and restarts put none out of step.

Offsets are in EV of picture brightness, in the order of release: +2 is two stops brighter.
"""

from __future__ import annotations

from collections.abc import Sequence, Sized


def index_of(seq: int, bracket: Sized) -> int:
    """Where slot `seq` (from 1) stands in its bracket, from 0."""
    return (seq - 1) % len(bracket)


def middle_index(offsets: Sequence[float]) -> int:
    """The frame at 0 EV, or the nearest to it (of two as near, the first): the light is metered and the clip made
    from it."""
    return 0 if len(offsets) == 1 else min(range(len(offsets)), key=lambda k: abs(offsets[k]))
