"""The shortest interval that is safe with a body: from what it was seen to take, or to hold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

from controller.words.bodies import BeatFound, BodySeen, BodyTimed, SafeInterval, Timings
from controller.words.phrases import count, length

Found = TypeVar("Found", BeatFound, Timings)

RESERVE = 1.2
"""Cards have slow moments, and slow down as they fill (common practice, no source)."""

LEAST_FRAMES = 10
"""Of fewer frames no high percentile is told."""


@dataclass(frozen=True, slots=True)
class Needs:
    """What a body needs from one release to the next, seconds, without reserve.

    At least `step_s` from release to release, and at least `gap_s` from the end of one exposure to the next release.
    `basis` says in words where that is from.
    """

    step_s: float
    gap_s: float
    basis: str

    @property
    def safe_step_s(self) -> float:
        return RESERVE * self.step_s

    @property
    def safe_gap_s(self) -> float:
        return RESERVE * self.gap_s

    def interval_s(self, exposure_s: float) -> float:
        """The shortest interval with an exposure, without reserve."""
        return max(self.step_s, exposure_s + self.gap_s)

    def safe_interval_s(self, exposure_s: float) -> float:
        """The same with the reserve, which the exposure itself does not need."""
        return max(self.safe_step_s, exposure_s + self.safe_gap_s)


def needs_of(body: BodySeen) -> Needs | None:
    """What a body needs with the files that it wrote last; None where too little was seen of it.

    An interval that it was seen to hold goes before what its parts took, one after the other: a body that writes behind
    its buffer needs less than their sum.
    """
    beat = _with(body, body.beats)
    if beat is not None and beat.held_s is not None:
        return _by_beat(beat, beat.held_s)
    times = _with(body, body.timings)
    return None if times is None else _by_times(times)


def timed(body: BodySeen) -> BodyTimed:
    """What a body takes over its frames, and what is safe with it."""
    needs = needs_of(body)
    safe = None if needs is None else SafeInterval(step_s=needs.safe_step_s, gap_s=needs.safe_gap_s, basis=needs.basis)
    return BodyTimed(model=body.model, serial=body.serial, safe=safe, timings=body.timings, beats=body.beats)


def _by_beat(beat: BeatFound, held_s: float) -> Needs:
    """Held with one exposure, the interval holds with any other whose gap is no shorter.

    A body that needs a gap after the exposure was given this one; one that needs a time to write, however long the
    exposure, was given this interval.
    """
    basis = f"a steady beat of {seconds(held_s)} held with {beat.files}"
    return Needs(held_s, held_s - beat.exposure_s, basis)


def _by_times(times: Timings) -> Needs | None:
    """Written within p99 of what that took, and set within p99 of that."""
    write, setting = times.write, times.set
    if write is None or write.count < LEAST_FRAMES:
        return None
    set_s = 0.0 if setting is None else setting.p99
    basis = f"to write {seconds(write.p99)} and to set {seconds(set_s)}, 99 % of {count(write.count, 'frame')}"
    return Needs(0.0, write.p99 + set_s, f"{basis}, {times.files}")


def _with(body: BodySeen, found: list[Found]) -> Found | None:
    """What is known with the files that the body wrote last; where that is not known, the one thing that is."""
    if body.files is None:
        return found[0] if found else None
    return next((each for each in found if each.files == body.files), None)


def seconds(value: float) -> str:
    """'0.35 s', '1.2 s'."""
    return f"{value:.2g} s" if value < 1 else length(value)
