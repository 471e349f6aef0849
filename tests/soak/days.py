"""What befalls a rig that shoots for days, drawn from a number: the same for the same number."""

from __future__ import annotations

import random
from dataclasses import dataclass
from itertools import cycle
from typing import Literal

Night = Literal["runs on", "killed", "stopped"]

CAMERA_FAULTS = {
    "drop": ("drop", "cut", "gone(3)", "drop+noevent"),
    "mute": ("mute(8)", "deaf(8)"),
    "busy": ("busy(2)", "refuse(device_busy)*12"),
    "events": ("noevent", "twice", "noevent twice", "unwritten"),
    "thumbnail": ("badthumb", "nothumb"),
}
"""Words of the simulated camera's script, one of which is drawn."""

KINDS = (*CAMERA_FAULTS, "card full", "worker killed", "rig killed", "clock put", "disk full")


@dataclass(frozen=True)
class Event:
    """What happens once a share of the day's window has passed, and how long it stays, wall seconds."""

    share: float
    kind: str
    words: str = ""
    lasts_s: float = 0.0
    step_s: float = 0.0  # of the scene's clock


@dataclass(frozen=True)
class Day:
    """A window with its events, and how the rig comes through the night after it."""

    events: tuple[Event, ...]
    night: Night


def draw(seed: int, days: int, each: int = 3) -> list[Day]:
    """`each` events a day; every kind comes once before any comes again."""
    dice = random.Random(seed)
    order = list(KINDS)
    dice.shuffle(order)
    kinds = cycle(order)
    nights: list[Night] = ["killed", "stopped", "killed", "runs on"]
    return [
        Day(
            tuple(_event(next(kinds), (i + dice.uniform(0.2, 0.8)) / each, dice) for i in range(each)),
            nights[day % len(nights)],
        )
        for day in range(days)
    ]


def _event(kind: str, share: float, dice: random.Random) -> Event:
    share = round(0.05 + 0.85 * share, 3)
    if kind in CAMERA_FAULTS:
        return Event(share, kind, dice.choice(CAMERA_FAULTS[kind]))
    if kind == "clock put":
        return Event(share, kind, step_s=dice.choice((-1, 1)) * dice.uniform(60, 240))
    return Event(share, kind, lasts_s=round(dice.uniform(1.5, 4.0), 1))
