"""When a frame's files may be deleted: from the rig, and from the camera's card. Pure.

Nothing goes unless it was read back whole, a moment before, in as many other places as the rule says:

- from the rig, in ONE_OTHER place elsewhere; in TWO where the card's own may be deleted too, or is;
- from the card, in TWO places, of which the rig may be one.

A place counts once, whatever is said of it, and never the one that is to be freed. What is not known counts as no.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

ONE_OTHER, TWO = 1, 2

FRESH_S = 900.0
"""Seconds for which a copy that was read back counts as there; a place that takes longer over one frame is too slow to
delete by."""

CARD_KEEPS = 100
"""A camera's newest frames stay on its card: what is looked for after a loss is held against them, and some bodies
begin to count anew on an empty card (common practice, no source)."""

DAY_S = 86_400.0

RIG = "rig"
"""The rig itself among places; no other may have this name."""


@dataclass(frozen=True, slots=True)
class Rule:
    """What a plan allows: days after which the rig's files may go, None for never; whether the card may be freed."""

    keep_days: float | None = None
    free_card: bool = False


@dataclass(frozen=True, slots=True)
class Held:
    """What the log has of a frame: whether all its files came to the rig and into the log with their checksums, whether
    they are still on rig and card, and how many newer frames of its camera are on the card."""

    taken_utc: float
    fetched: bool
    on_rig: bool
    on_card: bool
    newer_on_card: int = 0


@dataclass(frozen=True, slots=True)
class ReadBack:
    """All files of one frame, read in one place just now. `whole`: each has the size and SHA-256 that the log has.

    `elsewhere`: on another disk than the rig's own. `at_mono` is when reading ended, by the clock that never steps.
    """

    place: str
    whole: bool
    elsewhere: bool
    at_mono: float


def rig_due(rule: Rule, held: Held, now_utc: float, *, clock_right: bool) -> bool:
    """Whether the rig's files are of an age to go; never by a clock that may be wrong."""
    if rule.keep_days is None or not (held.fetched and held.on_rig and clock_right):
        return False
    return now_utc - held.taken_utc > rule.keep_days * DAY_S


def card_due(rule: Rule, held: Held) -> bool:
    """Whether the card's files are among those that may go."""
    return rule.free_card and held.fetched and held.on_card and held.newer_on_card >= CARD_KEEPS


def needed_for_rig(rule: Rule, held: Held) -> int:
    """In how many places elsewhere a frame has to be before the rig's files go."""
    return TWO if rule.free_card or not held.on_card else ONE_OTHER


def rig_may_go(
    rule: Rule, held: Held, read: Iterable[ReadBack], *, now_utc: float, now_mono: float, clock_right: bool
) -> bool:
    """Whether the frame's files may be deleted from the rig at this moment."""
    if not rig_due(rule, held, now_utc, clock_right=clock_right):
        return False
    proven = {each.place for each in read if each.elsewhere and each.place != RIG and _proves(each, now_mono)}
    return len(proven) >= needed_for_rig(rule, held)


def card_may_go(rule: Rule, held: Held, read: Iterable[ReadBack], *, now_mono: float) -> bool:
    """Whether the frame's files may be deleted from the card at this moment."""
    if not card_due(rule, held):
        return False
    there = [each for each in read if _proves(each, now_mono)]
    on_rig = held.on_rig and any(each.place == RIG for each in there)
    proven = {each.place for each in there if each.elsewhere and each.place != RIG}
    return len(proven) + on_rig >= TWO


def _proves(read: ReadBack, now_mono: float) -> bool:
    return read.whole and 0 <= now_mono - read.at_mono <= FRESH_S
