"""Changes of exposure from one frame that the clip shows to the next."""

from __future__ import annotations

from collections import Counter

from controller.results.report.documents import ExposureSteps
from controller.words.documents import Frame

_SAME_EV = 0.005  # settings that differ by less are the same


class Steps:
    """Takes those frames in order."""

    def __init__(self) -> None:
        self._last: float | None = None
        self._sizes: Counter[str] = Counter()  # two decimals: some thousand different ones at most
        self._largest: tuple[float, int] | None = None

    def __call__(self, frame: Frame) -> None:
        ev = frame.exposure_ev
        if ev is None:
            return
        step = 0.0 if self._last is None else abs(ev - self._last)
        self._last = ev
        if step > _SAME_EV:
            self._sizes[f"{step:.2f}"] += 1
            if self._largest is None or step > self._largest[0]:
                self._largest = step, frame.seq

    def steps(self) -> ExposureSteps:
        if self._largest is None:
            return ExposureSteps(changes=0)
        largest, seq = self._largest
        return ExposureSteps(
            changes=self._sizes.total(),
            largest_ev=largest,
            largest_seq=seq,
            sizes=dict(sorted(self._sizes.items())),
        )
