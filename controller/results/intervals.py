"""One frame of each interval: where a shoot brackets, the one that clip and brightness go by."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from controller.words.brackets import index_of, middle_index
from controller.words.documents import Frame, Shoot


def offsets(shoot: Shoot) -> tuple[float, ...]:
    """What each interval of a shoot is exposed with, EV of brightness; (0.0,) without a bracket."""
    return tuple(shoot.plan.get("light", {}).get("bracket_ev") or (0.0,))


def one_each(shoot: Shoot, frames: Sequence[Frame]) -> list[Frame]:
    """Of each bracket the frame at 0 EV, or the nearest to it, with the interval of the whole bracket.

    A bracket whose frame there was missed or lost has none: another one of it would be stops off. Without a bracket
    the frames as they are.
    """
    bracket = offsets(shoot)
    count = len(bracket)
    if count == 1:
        return list(frames)
    whole_s: dict[int, float] = defaultdict(float)
    for frame in frames:
        whole_s[(frame.seq - 1) // count] += frame.interval_s
    return [
        frame.model_copy(update={"interval_s": whole_s[(frame.seq - 1) // count]})
        for frame in frames
        if index_of(frame.seq, bracket) == middle_index(bracket)
    ]


def told(shoot: Shoot) -> str:
    """'those at 0 EV of brackets of 3', for people; empty without a bracket."""
    bracket = offsets(shoot)
    if len(bracket) == 1:
        return ""
    at = f"{bracket[middle_index(bracket)]:+g}".replace("-", "−").replace("+0", "0")
    return f"those at {at} EV of brackets of {len(bracket)}"
