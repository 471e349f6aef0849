"""What `duskhand plan` prints of a plan of many windows: a line a window, or a line a month."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import groupby

from controller.words.advice import WindowSummary
from controller.words.phrases import count, length

LONG = 12
"""With more windows than this, sums and warnings come first and each window has no block of its own."""

_BY_MONTH = 31


def listed(windows: Sequence[WindowSummary]) -> list[str]:
    """In order of time: a line a window, or a line a month where there are more than 31."""
    if len(windows) <= _BY_MONTH:
        return [_line(window) for window in windows]
    return [_month(name, list(group)) for name, group in groupby(windows, _month_of)]


def closely(windows: Sequence[WindowSummary]) -> str | None:
    """Which windows are worked out to the minute, and why those; None where all are."""
    fine = sum(1 for window in windows if window.marks)
    if fine == len(windows):
        return None
    return (
        f"{fine} of {len(windows)} windows were looked at closely for warnings: the first three, those nearest to the "
        "solstices, where days are longest and shortest, and the last. --json has their light and sun events"
    )


def _month_of(window: WindowSummary) -> str:
    return f"{datetime.fromisoformat(window.start_local):%b %Y}"


def _line(window: WindowSummary) -> str:
    start = datetime.fromisoformat(window.start_local)
    if window.end_local is None:
        return f"{start:%a %d %b %Y %H:%M} until stopped"
    end = datetime.fromisoformat(window.end_local)
    day = "" if end.date() == start.date() else f"{end:%a %d %b} "
    facts = []
    if window.frames is not None and window.clip_s is not None:
        facts = [count(window.frames, "frame"), f"a clip of {length(window.clip_s)}"]
    text = f"{start:%a %d %b %Y %H:%M} – {day}{end:%H:%M}"
    return text + ("  " + ", ".join(facts) if facts else "")


def _month(name: str, windows: Sequence[WindowSummary]) -> str:
    starts = sorted(f"{datetime.fromisoformat(window.start_local):%H:%M}" for window in windows)
    span = starts[0] if starts[0] == starts[-1] else f"{starts[0]} to {starts[-1]}"
    text = f"{name}  {count(len(windows), 'window')} from {span}"
    frames = [window.frames for window in windows if window.frames is not None]
    clips = [window.clip_s for window in windows if window.clip_s is not None]
    if len(frames) == len(clips) == len(windows):
        text += f", {count(sum(frames), 'frame')}, a clip of {length(sum(clips))}"
    return text
