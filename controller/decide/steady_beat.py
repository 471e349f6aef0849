"""A steady beat: frames at one interval after another, until the shortest that a body really holds is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from controller.decide.safe_interval import Needs

FRAMES = 8
"""Of one run: enough for a buffer that fills to show, few enough for the shutter."""

RUNS = 12
"""In all at most."""

MOST_FRAMES = FRAMES * RUNS

EXPOSURE_S = 1 / 64
"""1/60 as the dial has it: short against what a body takes to read out and to write."""

LONGEST_DIAL_S, LONGEST_S = 30.0, 32.0
"""The longest exposure that is asked for, as the dial has it, and truly."""

_FIRST_GAP_S = 2.0  # where nothing is known of the body (common practice, no source)
_LEAST_GAP_S = 0.05
_LONGER = 3  # how often the gap is doubled where not even the first interval was held
_ENDS = 3  # frames at each end of a run whose middle counts, so that one slow moment does not
_NEAR_S, _NEAR = 0.05, 0.05  # the interval is found to 50 ms, or to a twentieth of it
_SLIP_S, _SLIP = 0.05, 0.1  # what a run may get behind: there is always some unsteadiness


@dataclass(frozen=True, slots=True)
class Taken:
    """One frame of a run, in seconds of one clock; `cause` says why it was missed, or is not on the card."""

    due: float
    released: float | None = None
    written: float | None = None
    cause: str = ""


@dataclass(frozen=True, slots=True)
class Run:
    """Frames at one interval; `cause` says why it was not held, None where it was."""

    interval_s: float
    cause: str | None


def tolerance_s(interval_s: float) -> float:
    """How late a frame may be released, and how far a run may get behind."""
    return max(_SLIP_S, _SLIP * interval_s)


def judged(frames: Sequence[Taken], interval_s: float) -> str | None:
    """Why a run of frames was not steady; None where it was.

    A body whose buffer takes in more than it writes releases on time for a while. So each frame's way from its due time
    to the card counts, which must not become longer from the first frames to the last.
    """
    for number, frame in enumerate(frames, 1):
        if frame.released is None:
            return f"frame {number} of {len(frames)} was missed: {frame.cause}"
    for number, frame in enumerate(frames, 1):
        if frame.written is None:
            return f"frame {number} of {len(frames)} is not on the card: {frame.cause}"
    most_s = tolerance_s(interval_s)
    late_s = median(frame.released - frame.due for frame in frames if frame.released is not None)
    if late_s > most_s:
        return f"the camera was not ready in time: half of the frames were released {late_s:.2g} s late or later"
    ways_s = [frame.written - frame.due for frame in frames if frame.written is not None]
    if median(ways_s[-_ENDS:]) - median(ways_s[:_ENDS]) > most_s:
        return "the camera wrote more slowly than it exposed, so that its buffer would fill"
    return None


def first_interval(exposure_s: float, needs: Needs | None) -> float:
    """The interval to begin with: one that is probably safe."""
    return _rounded(exposure_s + _FIRST_GAP_S if needs is None else needs.safe_interval_s(exposure_s))


def next_interval(runs: Sequence[Run], exposure_s: float, needs: Needs | None) -> float | None:
    """The interval to try after these runs; None where the shortest is found, or is not to be found.

    What fails is tried once more, since the rig may have been the cause. From what holds the gap is halved until
    something fails, and then the middle between both is tried.
    """
    if not runs:
        return first_interval(exposure_s, needs)
    if len(runs) >= RUNS:
        return None
    last = runs[-1]
    held, failed = held_s(runs), failed_s(runs)
    if last.cause is not None and last.interval_s != failed:
        return last.interval_s
    if held is None:
        if len({run.interval_s for run in runs}) > _LONGER:
            return None
        return _rounded(exposure_s + max(_FIRST_GAP_S, 2 * (last.interval_s - exposure_s)))
    if failed is None:
        gap_s = held - exposure_s
        return None if gap_s <= _LEAST_GAP_S else _other(exposure_s + max(_LEAST_GAP_S, gap_s / 2), held)
    return None if held - failed <= max(_NEAR_S, _NEAR * held) else _other((held + failed) / 2, held, failed)


def held_s(runs: Sequence[Run]) -> float | None:
    """The shortest interval that was held."""
    return min((run.interval_s for run in runs if run.cause is None), default=None)


def failed_s(runs: Sequence[Run]) -> float | None:
    """The longest that was not, twice: nothing shorter is tried after it, so that it is the next below what is held."""
    not_held = [run.interval_s for run in runs if run.cause is not None]
    return max((s for s in not_held if not_held.count(s) > 1), default=None)


def cause_of(runs: Sequence[Run], interval_s: float | None) -> str | None:
    """Why an interval was not held, the last time."""
    return next((run.cause for run in reversed(runs) if run.interval_s == interval_s), None)


def _rounded(interval_s: float) -> float:
    return round(interval_s, 2)


def _other(interval_s: float, *known: float) -> float | None:
    """Rounded; None where that is one that was tried."""
    found = _rounded(interval_s)
    return None if found in known else found
