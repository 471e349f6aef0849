"""Whether a machine's clock can be believed, from what the machine and the rig's own past tell of it.

A clock without a battery wakes up behind: with the time at which it was last written down. So what may be believed is
that time has not gone back, and that such a clock has not jumped ahead.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from controller.words.documents import ClockState, KeptBy
from controller.words.phrases import length
from controller.words.times import from_iso

MADE_UTC = from_iso("2026-11-01T00:00:00Z")
"""Before this no rig ran this program: a clock that says so is wrong. Put forward with a release."""

AGREE_S = 60.0
"""Two clocks that differ by less have one time; battery clocks tell whole seconds."""

AHEAD_S = 60 * 86_400.0
"""A clock that nothing keeps is wrong where it stands further ahead of what the rig knew last: it cannot have run."""

BATTERY_AHEAD_S = 10 * 365.25 * 86_400.0
"""The same for one that a battery keeps, which outlasts no such time on a shelf (common practice, no source)."""

PATIENCE_S = 900.0
"""Seconds from the machine's start in which the network sets a clock, where it does at all; after that windows go by a
clock that is only unsure. A window that is shot some minutes late is worth more than one that is not shot."""


@dataclass(frozen=True, slots=True)
class ClockFacts:
    """What is known of a machine's clock."""

    utc: float
    known_utc: float | None = None  # the last moment that the rig knew of, by a clock that it believed
    synchronised: bool | None = None  # by the network or a receiver; None: nobody tells
    battery_off_s: float | None = None  # its battery clock's time minus its own; None where it has none
    set_by_hand: bool = False  # somebody set it while the rig ran


@dataclass(frozen=True, slots=True)
class Judged:
    """`from_utc`: a moment that has passed and that the machine's clock stands behind; the rig's time begins there."""

    state: ClockState
    kept_by: KeptBy | None = None
    why: str | None = None
    from_utc: float | None = None


def judge(facts: ClockFacts) -> Judged:
    """What to make of it."""
    if facts.synchronised:
        return Judged(ClockState.RIGHT, KeptBy.NETWORK)
    if facts.set_by_hand and facts.utc >= MADE_UTC:
        return Judged(ClockState.RIGHT, KeptBy.HAND)
    known, battery = facts.known_utc, facts.battery_off_s is not None and abs(facts.battery_off_s) <= AGREE_S
    if known is not None and facts.utc < known - AGREE_S:
        why = f"its clock was put back by {length(known - facts.utc)}, and it counts on from the time it last knew"
        return Judged(ClockState.UNSURE, why=why, from_utc=known)
    if facts.utc < MADE_UTC:
        return Judged(ClockState.WRONG, why=f"its clock says {_day(facts.utc)}, before this program was made")
    if known is not None and (facts.synchronised is False or battery):
        ahead_s = facts.utc - known
        if ahead_s > (BATTERY_AHEAD_S if battery else AHEAD_S):
            return Judged(
                ClockState.WRONG, why=f"its clock says {_day(facts.utc)}, {length(ahead_s)} after it was last right"
            )
    if battery:
        return Judged(ClockState.RIGHT, KeptBy.BATTERY)
    if facts.synchronised is None:  # nobody tells, and nothing speaks against it
        return Judged(ClockState.RIGHT)
    return Judged(ClockState.UNSURE, why="nothing has set its clock since it was started")


def _day(utc: float) -> str:
    return f"{datetime.fromtimestamp(utc, UTC):%Y-%m-%d}"
