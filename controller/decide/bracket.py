"""Several releases of one interval at exposures apart: a bracket.

Every release is a slot of its own with its own due time: the first where the interval begins, each next one when the
exposure before it and the least gap are over. Offsets are in EV of picture brightness: +2 is two stops brighter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from controller.decide.exposure import Body, Limits, Quantity, Triple, allocate, shutters
from controller.decide.plan import FixedLight, FollowLight

_WIDEST = 2.0**6  # how far a bracket may move a shutter that the plan fixes


@dataclass(frozen=True, slots=True)
class Bracket:
    """What one interval holds. `base` is the exposure in force, at an offset of 0 whether or not that is released."""

    interval_s: float  # from the bracket's first release to the next bracket's
    target_ev: float  # what the light rule asked for at an offset of 0
    base: Triple
    exposures: tuple[Triple, ...]

    def slot_s(self, index: int, min_gap_s: float) -> float:
        """From the release of frame `index` to the next release, seconds."""
        if index < len(self.exposures) - 1:
            return self.exposures[index].shutter_s + min_gap_s
        return self.interval_s - sum(e.shutter_s + min_gap_s for e in self.exposures[:-1])


def room_s(interval_s: float, min_gap_s: float, offsets: Sequence[float]) -> float:
    """What an interval leaves for the exposures of a bracket together, seconds: the gaps taken off."""
    return interval_s - len(offsets) * min_gap_s


def bracket(
    base: Triple, offsets: Sequence[float], limits: Limits, order: Sequence[Quantity], body: Body, room_s: float
) -> tuple[Triple, ...]:
    """An exposure for each offset from `base`, in the order given, nearest realisable, `room_s` long together.

    Where they do not fit, the longest allowed shutter is lowered for all of them, stop by stop, and what comes next in
    `order` gives way. `room_s` holds the body's shortest time once for each offset; otherwise that is what comes back.
    """
    times = shutters(limits, body)
    triples: tuple[Triple, ...] = ()
    for longest_s in reversed([s for s in times if s <= room_s] or times[:1]):
        triples = tuple(
            base
            if offset == 0 and base.shutter_s <= longest_s
            else allocate(base.ev - offset, limits, order, body, longest_s)
            for offset in offsets
        )
        if sum(t.shutter_s for t in triples) <= room_s:
            break
    return triples


def exposures(
    light: FixedLight | FollowLight, base: Triple, limits: Limits, body: Body, room_s: float
) -> tuple[Triple, ...]:
    """What one interval is exposed with under a light rule: `base` alone, or a bracket around it."""
    if light.bracket_ev is None:
        return (base,)
    if isinstance(light, FixedLight):
        return bracket(base, light.offsets, around(limits), (), body, room_s)
    return bracket(base, light.offsets, limits, light.giving_way, body, room_s)


def around(limits: Limits) -> Limits:
    """Limits in which a fixed exposure is bracketed: by its shutter alone."""
    low, high = limits.shutter_s
    return replace(limits, shutter_s=(low / _WIDEST, high * _WIDEST))
