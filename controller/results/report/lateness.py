"""How late releases were."""

from __future__ import annotations

from controller.results.report.documents import Bar, Lateness
from controller.results.report.tally import Tally
from controller.words.documents import Frame

_BOUNDS_MS = tuple(2.0**k for k in range(-4, 21))


class Late:
    """Takes frames that were released."""

    def __init__(self) -> None:
        self._tally = Tally()
        self._worst: tuple[float, int] | None = None

    def __call__(self, frame: Frame) -> None:
        if frame.late_ms is not None:
            self._tally.add(frame.late_ms)
            self._worst = max(self._worst or (frame.late_ms, frame.seq), (frame.late_ms, frame.seq))

    def lateness(self) -> Lateness | None:
        """None where no frame tells."""
        if self._worst is None:
            return None
        p50, p90, p99, p999 = self._tally.percentiles([50, 90, 99, 99.9])
        return Lateness(
            frames=self._tally.count,
            p50_ms=p50,
            p90_ms=p90,
            p99_ms=p99,
            p999_ms=p999,
            max_ms=self._worst[0],
            max_seq=self._worst[1],
            within=self._tally.within,
            bars=_bars(self._tally),
        )


def _bars(tally: Tally) -> list[Bar]:
    """From the first bound below which there is any to the last one; the top one takes all that is later."""
    counts = tally.between(_BOUNDS_MS[:-1])
    there = [place for place, count in enumerate(counts) if count]
    return [
        Bar(from_ms=_BOUNDS_MS[place - 1] if place else None, to_ms=_BOUNDS_MS[place], frames=counts[place])
        for place in range(there[0], there[-1] + 1)
    ]
