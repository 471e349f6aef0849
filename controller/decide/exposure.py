"""Exposure triples: the nearest one that a body can set inside the plan's limits.

Everything is counted in stops of light on true values, so that a step of a third is a third.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from operator import itemgetter
from typing import Literal

from controller.words.errors import BadInput
from controller.words.stops import exposure_ev, meant_shutter, shutter_label, true_aperture, true_iso

Range = tuple[float, float]
Quantity = Literal["shutter", "aperture", "iso"]
QUANTITIES: tuple[Quantity, ...] = ("shutter", "aperture", "iso")

_SLACK = 1e-6  # relative; true values come from powers and logarithms


@dataclass(frozen=True, slots=True)
class Triple:
    """True settings and the EV at ISO 100 that they suit."""

    shutter_s: float
    aperture: float
    iso: float
    ev: float


@dataclass(frozen=True, slots=True)
class Body:
    """What a body can set: true values, ascending. An empty tuple means that it cannot be set, or is not known."""

    shutter_s: tuple[float, ...]
    aperture: tuple[float, ...]
    iso: tuple[float, ...]
    bulb: bool = False  # whether the camera layer can hold the shutter open for a time that is on no dial
    _hash: int = field(init=False, repr=False, compare=False, default=0)  # asked for several times a slot

    def __post_init__(self) -> None:
        object.__setattr__(self, "_hash", hash((self.shutter_s, self.aperture, self.iso, self.bulb)))

    def __hash__(self) -> int:
        return self._hash


ANY_BODY = Body(
    shutter_s=tuple(2.0 ** (k / 3) for k in range(-39, 16)),  # 1/8000 … 30 s
    aperture=tuple(2.0 ** (k / 6) for k in range(31)),  # f/1 … f/32
    iso=tuple(100 * 2.0 ** (k / 3) for k in range(-3, 31)),  # 50 … 102400
)
"""Full dials in thirds, for planning without a camera."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Lowest and highest true value of each quantity."""

    shutter_s: Range
    aperture: Range
    iso: Range
    bulb: bool = False  # whether a body that offers bulb may go beyond its longest time


@lru_cache(maxsize=64)
def limits(shutter_s: Range, aperture: Range, iso: Range, bulb: bool = False) -> Limits:
    """Limits from the numbers that a person wrote: dial labels mean the true values behind them (30 s means 32 s)."""
    return Limits(
        (meant_shutter(shutter_s[0]), meant_shutter(shutter_s[1])),
        (true_aperture(aperture[0]), true_aperture(aperture[1])),
        (true_iso(iso[0]), true_iso(iso[1])),
        bulb,
    )


def check_bulb(wanted: bool, body: Body) -> None:
    """Raises BadInput (no-bulb) where a plan wants bulb exposures of a body that offers none."""
    if wanted and not body.bulb:
        longest_s = (body.shutter_s or ANY_BODY.shutter_s)[-1]
        remedy = f"Remove it, and let ISO or aperture give way beyond {shutter_label(longest_s)}"
        raise BadInput(
            "no-bulb", "this camera cannot be held open by the rig for longer than its dial", "[light] bulb", remedy
        )


@lru_cache(maxsize=4096)
def triple(shutter_s: float, aperture: float, iso: float) -> Triple:
    """A triple of true settings with its EV."""
    return Triple(shutter_s, aperture, iso, exposure_ev(shutter_s, aperture, iso))


ASSUMED = triple(1 / 64, 5.6, 100.0)
"""For what a body does not tell that it is set to, such as the aperture of a lens without contacts."""


def allocate(target_ev: float, limits: Limits, order: Sequence[Quantity], body: Body, longest_s: float) -> Triple:
    """The triple nearest to `target_ev` (EV at ISO 100).

    As it gets dark the quantities of `order` give way one after the other, each to its limit before the next; those not
    named give way last. The shutter is never open longer than `longest_s`, even where that breaks its lower limit.
    """
    dials = _dials(limits, body)
    lights = {**dials, "shutter": _up_to(dials["shutter"], longest_s, body)}
    chosen = {}
    need = -target_ev - lights["shutter"][0][0] - lights["aperture"][0][0] - lights["iso"][0][0]
    for name in _all_of(tuple(order)):
        steps = lights[name]
        least = steps[0][0]
        light, chosen[name] = steps[_nearest(steps, least + need)]
        need -= light - least
    return triple(chosen["shutter"], chosen["aperture"], chosen["iso"])


@lru_cache(maxsize=32)
def _all_of(order: tuple[Quantity, ...]) -> tuple[Quantity, ...]:
    return *order, *(q for q in QUANTITIES if q not in order)


def allowed(held: Triple, limits: Limits, body: Body, longest_s: float) -> bool:
    """Whether a triple can stay in force: on the body's dials, within limits, and no longer than `longest_s`."""
    return held.shutter_s <= longest_s and _on_dials(held, limits, body)


@lru_cache(maxsize=256)
def _on_dials(held: Triple, limits: Limits, body: Body) -> bool:
    settings = {"shutter": held.shutter_s, "aperture": held.aperture, "iso": held.iso}
    return all(
        any(math.isclose(value, settings[name], rel_tol=_SLACK) for _, value in steps)
        for name, steps in _dials(limits, body).items()
    )


def shutters(limits: Limits, body: Body) -> tuple[float, ...]:
    """A body's times, ascending, and beyond them, where bulb is wanted and offered, thirds up to the limit.

    Where the limits leave one time only, as under a fixed light, that very time.
    """
    dial = body.shutter_s or ANY_BODY.shutter_s
    if not (limits.bulb and body.bulb):
        return dial
    least, most = limits.shutter_s
    if least == most > dial[-1] * (1 + _SLACK):
        return (*dial, most)
    thirds = math.floor(3 * math.log2(limits.shutter_s[1] * (1 + _SLACK) / dial[-1]))
    return dial + tuple(dial[-1] * 2.0 ** (k / 3) for k in range(1, thirds + 1))


def shortest_s(body: Body) -> float:
    """The shortest exposure that a body can make, seconds."""
    return (body.shutter_s or ANY_BODY.shutter_s)[0]


_Steps = tuple[tuple[float, float], ...]  # (stops of light, setting), from little light to much


@lru_cache(maxsize=64)
def _dials(limits: Limits, body: Body) -> dict[Quantity, _Steps]:
    times = _within(shutters(limits, body), limits.shutter_s)
    apertures = _within(body.aperture or limits.aperture[:1], limits.aperture)
    isos = _within(body.iso or ANY_BODY.iso, limits.iso)
    return {
        "shutter": tuple((math.log2(s), s) for s in times),
        "aperture": tuple((-2 * math.log2(n), n) for n in reversed(apertures)),
        "iso": tuple((math.log2(s / 100), s) for s in isos),
    }


def _within(values: Sequence[float], limit: Range) -> Sequence[float]:
    """The values inside a limit; where there are none, the one that is nearest to it."""
    low, high = limit[0] * (1 - _SLACK), limit[1] * (1 + _SLACK)
    inside = values[bisect_left(values, low) : bisect_right(values, high)]
    middle = math.sqrt(low * high)
    return inside or [min(values, key=lambda value: abs(math.log2(value / middle)))]


def _up_to(steps: _Steps, longest_s: float, body: Body) -> _Steps:
    if steps[-1][1] <= longest_s:
        return steps
    fitting = bisect_right(steps, longest_s, key=itemgetter(1))
    if fitting:
        return steps[:fitting]
    values = body.shutter_s or ANY_BODY.shutter_s
    longest = values[max(0, bisect_right(values, longest_s) - 1)]
    return ((math.log2(longest), longest),)


def _nearest(steps: _Steps, light: float) -> int:
    after = bisect_left(steps, (light,))
    if after == 0:
        return 0
    if after == len(steps):
        return after - 1
    return after if steps[after][0] - light < light - steps[after - 1][0] else after - 1
