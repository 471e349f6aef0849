"""How much lighter or darker each frame of a clip must become, so that exposure steps and flicker go and dusk stays.

With m the measured brightness of the pictures (log2 of mean linear luminance) and e their exposure in EV, m falls by a
step where e rises by one. Two parts are taken apart and smoothed each in its own way:

- the *known* steps: at each change of e the jump of m that goes with it is kept, scaled by how strongly the camera's
  tone curve really answers. The staircase of all jumps becomes a ramp.
- the *scene*: m without the known steps. A smooth track follows it, the closer the faster the light moves beside the
  flicker; what stands far out of that, as lightning and headlights do, is left as it is.

Both tracks are Whittaker's, weighted so that outliers do not pull them; smoother.py has the sources.

Pure: arrays in, arrays out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from controller.results.clip.flashes import off_lines, off_median
from controller.results.clip.over_gaps import Floats, Gaps, OnSlots
from controller.results.clip.smoother import (
    PERIOD,
    bisquare,
    closer,
    deviation_around,
    flicker_around,
    strength,
    whittaker,
)

STAIRS_PERIOD = 80.0  # frames; steps that come faster become a ramp, slower ones are spread over about half of this
LIMIT_EV = 2.0  # no frame is made lighter or darker by more
STAYS_EV = 0.15  # what stands further out of the smooth track is an event, not flicker
_SAME_EV = 0.005  # exposures that differ by less are the same
_LARGE_EV = 1.1
_ROUNDS = 8


@dataclass(frozen=True, slots=True)
class Track:
    """Per frame: `gain` to apply and `wanted` brightness, the measured one plus the gain, both in EV; and how far, 0…1,
    the frame `stays` outside as an event."""

    gain: Floats
    wanted: Floats
    stays: Floats


def steady(measured: Floats, exposure_ev: Floats, gaps: Gaps | None = None) -> Track:
    """`measured` log2 luminance and `exposure_ev` (nan where unknown) per frame, in order; the `gaps` between them."""
    if measured.size < 3:
        return Track(np.zeros_like(measured), measured.copy(), np.zeros_like(measured))
    gaps = Gaps.none(measured.size) if gaps is None else gaps
    slots = OnSlots(gaps)
    stairs = known_steps(measured, exposure_ev, gaps)
    scene = measured + stairs
    track, outside = follow(slots.line(scene), slots, closely=not np.isnan(exposure_ev).any())
    smooth, stays, ramped = track[slots.seen], outside[slots.seen], ramp(slots.stairs(stairs))[slots.seen]
    even = slots.spread(smooth - ramped, lambda steps: whittaker(steps, np.ones_like(steps), strength(STAIRS_PERIOD)))
    gain = (1 - stays) * (smooth - scene) + stairs - ramped + even
    gain = np.clip(gain, -LIMIT_EV, LIMIT_EV)
    return Track(gain, measured + gain, stays)


def known_steps(measured: Floats, exposure_ev: Floats, gaps: Gaps | None = None) -> Floats:
    """What changes of exposure took from the brightness so far, EV per frame; 0 at the first frame.

    The answer of the pictures to a step of one EV is the median over neighbouring steps, so that one flash of lightning
    at a step does no harm; it is 1 for a picture that is linear in light, and 0 where darkness has swallowed the step.
    A large step reaches parts of the tone curve that its neighbours do not, and its own answer is clear enough. Over a
    gap light moved too, so there it is the neighbours' answer.
    """
    step_ev = np.diff(_filled(exposure_ev))
    jump_ev = np.diff(measured)
    changes = np.flatnonzero(np.abs(step_ev) > _SAME_EV)
    beside = np.ones(step_ev.size, np.bool_) if gaps is None else gaps.missing == 0
    quiet = beside & (np.abs(step_ev) <= _SAME_EV)
    answers = np.full(changes.size, np.nan)
    for place, index in enumerate(changes):
        if not beside[index]:
            continue
        near = slice(max(index - 8, 0), index + 9)
        trend = jump_ev[near][quiet[near]]
        if trend.size < 3:  # an automatic that changes at every frame
            trend = jump_ev[near] + step_ev[near]
        answers[place] = -(jump_ev[index] - np.median(trend)) / step_ev[index]
    steps = np.zeros_like(step_ev)
    for place, index in enumerate(changes):
        alone = beside[index] and abs(step_ev[index]) > _LARGE_EV
        told = answers[place : place + 1] if alone else answers[max(place - 4, 0) : place + 5]
        told = told[~np.isnan(told)]
        answer = np.median(told) if told.size else 1.0
        steps[index] = np.clip(answer, 0.0, 2.0) * step_ev[index]
    return np.concatenate([[0.0], np.cumsum(steps)])


def ramp(stairs: Floats) -> Floats:
    """A staircase of exposures as a ramp; a few frames that lie a stop or more off it do not pull it.

    The middle of a step is where the light was; a tread between two tells less of it.
    """
    middles, known = stairs.copy(), np.full_like(stairs, 0.1)
    height = np.abs(np.diff(stairs))
    for place in np.flatnonzero((height > _SAME_EV) & (height < _LARGE_EV)):
        middles[place : place + 2] = (stairs[place] + stairs[place + 1]) / 2
        known[place : place + 2] = 1
    stiff = strength(STAIRS_PERIOD) * float(known.mean())
    weights, smooth = known, middles
    for _ in range(_ROUNDS):
        smooth = whittaker(middles, weights, stiff)
        weights = known * bisquare(middles - smooth, 1.0)
    return smooth


def follow(scene: Floats, slots: OnSlots, closely: bool = True) -> tuple[Floats, Floats]:
    """The smooth track through `scene`, and per slot how far (0…1) it stands outside as an event that stays.

    Where light moves faster than the slow track can, as under broken clouds, it is followed as closely as flicker lets
    it. Not `closely`, it is not: a step of an exposure that nobody knows would be taken for such light.
    """
    seen = slots.seen.astype(float)
    smooth, spread, weights = scene, seen, seen
    for _ in range(_ROUNDS):
        smooth = whittaker(scene, weights, strength(PERIOD))
        off = np.abs(scene - smooth)
        spread = np.maximum(slots.of_seen(deviation_around, off), 0.005)
        weights = seen * bisquare(off, 4.685 * spread)
    flicker = np.minimum(slots.of_seen(flicker_around, scene), spread)
    bound = np.maximum(STAYS_EV, 5.0 * flicker)  # sure also where few frames tell the flicker
    if closely:
        flashes = np.minimum(slots.of_seen(off_median, scene - smooth), slots.of_seen(off_lines, scene))
        smooth = closer(scene, seen * bisquare(flashes, bound), flicker, slots)
    return smooth, np.clip(3 * (np.abs(scene - smooth) / bound - 1), 0, 1)


def _filled(exposure_ev: Floats) -> Floats:
    """Unknown exposures as the last known one before, or the first."""
    known = np.flatnonzero(~np.isnan(exposure_ev))
    if known.size == 0:
        return np.zeros_like(exposure_ev)
    before = np.searchsorted(known, np.arange(exposure_ev.size), side="right") - 1
    return np.asarray(exposure_ev[known[np.maximum(before, 0)]])
