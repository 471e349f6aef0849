"""One frame of each interval: where a shoot brackets, the one that clip and brightness go by."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from controller.words.brackets import index_of, middle_index
from controller.words.documents import Frame, Shoot


def offsets(shoot: Shoot) -> tuple[float, ...]:
    """What each interval of a shoot is exposed with, EV of brightness; (0.0,) without a bracket."""
    return tuple(shoot.plan.get("light", {}).get("bracket_ev") or (0.0,))


class EachInterval:
    """Takes the frames of one camera in order, and gives `then` one of each interval.

    Of each bracket it is the frame at 0 EV, or the nearest to it, with the interval of the whole bracket. A bracket
    whose frame there was missed or lost has none: another one of it would be stops off. Without a bracket all frames as
    they are.
    """

    def __init__(self, shoot: Shoot, then: Callable[[Frame], None]) -> None:
        self._bracket, self._then = offsets(shoot), then
        self._middle = middle_index(self._bracket)
        self._place, self._whole_s = -1, 0.0
        self._frame: Frame | None = None

    def __call__(self, frame: Frame) -> None:
        if len(self._bracket) == 1:
            self._then(frame)
            return
        place = (frame.seq - 1) // len(self._bracket)
        if place != self._place:
            self.end()
            self._place = place
        self._whole_s += frame.interval_s
        if index_of(frame.seq, self._bracket) == self._middle:
            self._frame = frame

    def end(self) -> None:
        """There are no more frames of this bracket."""
        if self._frame is not None:
            self._then(self._frame.model_copy(update={"interval_s": self._whole_s}))
        self._whole_s, self._frame = 0.0, None


def one_each(shoot: Shoot, frames: Sequence[Frame]) -> list[Frame]:
    """What `EachInterval` gives of each camera and shoot among `frames`, in their order."""
    if len(offsets(shoot)) == 1:
        return list(frames)
    found: list[Frame] = []
    each: dict[tuple[str, str], EachInterval] = {}
    order = {(frame.shoot, frame.camera, frame.seq): place for place, frame in enumerate(frames)}
    for frame in frames:
        each.setdefault((frame.shoot, frame.camera), EachInterval(shoot, found.append))(frame)
    for one in each.values():
        one.end()
    return sorted(found, key=lambda frame: order[frame.shoot, frame.camera, frame.seq])


def told(shoot: Shoot) -> str:
    """'those at 0 EV of brackets of 3', for people; empty without a bracket."""
    bracket = offsets(shoot)
    if len(bracket) == 1:
        return ""
    at = f"{bracket[middle_index(bracket)]:+g}".replace("-", "−").replace("+0", "0")
    return f"those at {at} EV of brackets of {len(bracket)}"
