"""How much lighter or darker each frame of a clip must become, so that exposure steps and flicker go and dusk stays.

With m the measured brightness of the pictures (log2 of mean linear luminance) and e their exposure in EV, m falls by a
step where e rises by one. Two parts are taken apart and smoothed each in its own way:

- the *known* steps: at each change of e the jump of m that goes with it is kept, scaled by how strongly the camera's
  tone curve really answers. The staircase of all jumps becomes a ramp.
- the *scene*: m without the known steps. A smooth track follows it, the closer the faster the light moves beside the
  flicker; what stands far out of that, as lightning and headlights do, is left as it is.

Both tracks are Whittaker's (Eilers, Anal. Chem. 75 (2003) 3631), weighted so that outliers do not pull them (Tukey's
bisquare, Beaton & Tukey, Technometrics 16 (1974) 147); how closely fast light is followed is Wiener's weight, taken
from what is around (Lee, IEEE PAMI 2 (1980) 165).

Pure: arrays in, arrays out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from controller.results.clip.over_gaps import Floats, Gaps, OnSlots

PERIOD = 40.0  # frames; brightness that swings faster is flicker as a rule: 1.6 s of clip at 25 fps
FAST_PERIODS = (16.0, 8.0, 4.0)  # frames; as fast as light is followed where flicker cannot be the cause
STAIRS_PERIOD = 80.0  # frames; steps that come faster become a ramp, slower ones are spread over about half of this
LIMIT_EV = 2.0  # no frame is made lighter or darker by more
STAYS_EV = 0.15  # what stands further out of the smooth track is an event, not flicker
_SAME_EV = 0.005  # exposures that differ by less are the same
_LARGE_EV = 1.1
_ROUNDS = 8
_SHORT = 15  # frames; a flash is shorter than half of it
_AROUND = 161  # frames over which flicker is told
_PASSES = (
    3 * np.pi / (4 * np.sqrt(2))
)  # frames; of white noise the smoother lets this over its period pass: ∫(1 + x⁴)⁻² dx
_CAUTION = 2.0  # the variance of a few frames is no sure figure


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
    even = slots.spread(smooth - ramped, lambda steps: whittaker(steps, np.ones_like(steps), _strength(STAIRS_PERIOD)))
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
    strength = _strength(STAIRS_PERIOD) * float(known.mean())
    weights, smooth = known, middles
    for _ in range(_ROUNDS):
        smooth = whittaker(middles, weights, strength)
        weights = known * _bisquare(middles - smooth, 1.0)
    return smooth


def follow(scene: Floats, slots: OnSlots, closely: bool = True) -> tuple[Floats, Floats]:
    """The smooth track through `scene`, and per slot how far (0…1) it stands outside as an event that stays.

    Where light moves faster than the slow track can, as under broken clouds, faster ones are added, by as much of each
    as flicker cannot be: Wiener's weight, signal over signal and noise, of what is around. Not `closely`, it is not: a
    step of an exposure that nobody knows would be taken for such light.
    """
    seen = slots.seen.astype(float)
    slow, spread, weights = scene, seen, seen
    for _ in range(_ROUNDS):
        slow = whittaker(scene, weights, _strength(PERIOD))
        off = np.abs(scene - slow)
        spread = np.maximum(slots.of_seen(_deviation_around, off), 0.005)
        weights = seen * _bisquare(off, 4.685 * spread)
    flicker = np.minimum(slots.of_seen(_flicker, scene), spread)
    smooth = slow
    bound = np.maximum(STAYS_EV, 5.0 * flicker)  # sure also where few frames tell the flicker
    if closely:
        weights = seen * _bisquare(slots.of_seen(_flashes, scene - slow), bound)
        for period in FAST_PERIODS:
            fast = whittaker(scene - smooth, weights, _strength(period))
            noise = _CAUTION * flicker**2 * _PASSES / period
            smooth = smooth + fast * np.maximum(1 - noise / np.maximum(slots.of_seen(_mean_around, fast**2), 1e-12), 0)
    return smooth, np.clip(3 * (np.abs(scene - smooth) / bound - 1), 0, 1)


def _flashes(values: Floats) -> Floats:
    """What stands out of the running median: flashes do, clouds last longer."""
    side = min(_SHORT // 2, values.size - 1)
    padded = np.pad(values, side, mode="reflect")
    return np.asarray(values - np.median(sliding_window_view(padded, 2 * side + 1), axis=1))


def _flicker(scene: Floats) -> Floats:
    """Its standard deviation around each frame, from second differences, of which clouds have hardly any."""
    inner = _deviation_around(np.abs(np.diff(scene, n=2))) / np.sqrt(6)
    return np.asarray(np.maximum(np.pad(inner, 1, mode="edge"), 0.002))


def _deviation_around(off: Floats) -> Floats:
    """The standard deviation around each frame that the median of absolute deviations stands for, were they normal."""
    width = min(_AROUND, off.size)
    width -= (width + 1) % 2
    starts = range(0, off.size - width + 1, 4096)  # whatever the number of frames, few are in memory as windows
    windows = (sliding_window_view(off[start : start + 4095 + width], width) for start in starts)
    inner = np.concatenate([np.median(window, axis=1) for window in windows])
    return np.asarray(1.4826 * np.pad(inner, width // 2, mode="edge"))


def _mean_around(values: Floats) -> Floats:
    """A moving average with Gauss' bell over about a second of clip."""
    reach = 45
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / (reach / 3)) ** 2)
    inside = slice(reach, reach + values.size)
    return np.asarray(np.convolve(values, bell)[inside] / np.convolve(np.ones_like(values), bell)[inside])


def _strength(period: float) -> float:
    """Of the smoother, so that half of a swing of so many frames passes."""
    return float((period / (2 * np.pi)) ** 4)


def _bisquare(off: Floats, bound: Floats | float) -> Floats:
    """Tukey's weights, from 1 for what is on the track to almost 0 for what is off it by `bound` or more."""
    return np.asarray(np.maximum((1 - np.minimum(np.abs(off) / bound, 1) ** 2) ** 2, 1e-6))


def whittaker(values: Floats, weights: Floats, strength: float) -> Floats:
    """The z that minimises Σ weights·(values − z)² + strength·Σ(second differences of z)².

    Solved as a banded L·D·Lᵀ system in time and memory that grow with the number of values; at least three.
    """
    size = values.size
    main = np.full(size, 6.0)
    main[[0, -1]], main[[1, -2]] = 1.0, 5.0
    near = np.full(size, -4.0)
    near[[0, -2]] = -2.0
    if size == 3:
        main[1], near[:2] = 4.0, -2.0
    diagonal = (weights + strength * main).tolist()
    first = (strength * near).tolist()
    pivots, left, far, solved = [0.0] * size, [0.0] * size, [0.0] * size, (weights * values).tolist()
    for i in range(size):
        pivot = diagonal[i]
        if i >= 1:
            pivot -= pivots[i - 1] * left[i - 1] ** 2
            solved[i] -= left[i - 1] * solved[i - 1]
        if i >= 2:
            pivot -= pivots[i - 2] * far[i - 2] ** 2
            solved[i] -= far[i - 2] * solved[i - 2]
        pivots[i] = pivot
        left[i] = (first[i] - (pivots[i - 1] * left[i - 1] * far[i - 1] if i >= 1 else 0.0)) / pivot
        far[i] = strength / pivot
    for i in range(size - 1, -1, -1):
        solved[i] /= pivots[i]
        if i + 1 < size:
            solved[i] -= left[i] * solved[i + 1]
        if i + 2 < size:
            solved[i] -= far[i] * solved[i + 2]
    return np.array(solved)


def _filled(exposure_ev: Floats) -> Floats:
    """Unknown exposures as the last known one before, or the first."""
    known = np.flatnonzero(~np.isnan(exposure_ev))
    if known.size == 0:
        return np.zeros_like(exposure_ev)
    before = np.searchsorted(known, np.arange(exposure_ev.size), side="right") - 1
    return np.asarray(exposure_ev[known[np.maximum(before, 0)]])
