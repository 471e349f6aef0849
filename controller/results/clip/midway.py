"""Tones that flicker where the mean does not: shadows under a steady sky, one colour of three.

Each frame's histogram is brought to the midway one of its neighbours: the histogram whose inverse cumulative is the
mean of theirs, so that each frame gets a monotone curve and no pixel's rank changes (Delon, Midway image equalization,
J. Math. Imaging Vision 21 (2004) 119; Movie and video scale-time equalization, IEEE Trans. Image Process. 15 (2006)
241; Sánchez, Midway Video Equalization, IPOL 7 (2017) 65). Unlike there it is done in linear light, after the level:
neighbours count as if they were as light as the frame is to be, so that a dusk stays one, and events neither count nor
change.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from controller.results.clip.steady import Track
from controller.results.clip.tone import LINEAR, Floats, Shares

SPREAD = 10.0  # frames; of the bell that weighs neighbours
REACH = 20  # frames to either side
MOST_EV = 0.25  # by which a tone is moved at most beside the level
_RANKS = np.linspace(0, 1, 129)
_SLOPE = np.arange(512) * 1e-12  # what has no pixels has an order too


@dataclass(frozen=True, slots=True)
class Tones:
    """Of a picture: linear light at each of `_RANKS` (3, 129), and the rank of each code (3, 256)."""

    light: Floats
    ranks: Floats


def tones(shares: Shares) -> Tones:
    """From a histogram, (3, 256); its channels may have any sum above 0."""
    counts = np.asarray(shares, dtype=np.float64)
    upper = np.cumsum(counts, axis=1) / counts.sum(axis=1, keepdims=True)
    lower = np.concatenate([np.zeros((3, 1)), upper[:, :-1]], axis=1)
    light = np.stack([_light_at_ranks(*each) for each in zip(counts > 0, lower, upper, strict=True)])
    return Tones(light, (lower + upper) / 2)


def _light_at_ranks(there: NDArray[np.bool_], lower: Floats, upper: Floats) -> Floats:
    """Of one channel, by the codes that are `there`; a code stands for half a code to either side."""
    codes = np.flatnonzero(there)
    ranks = np.stack([lower[codes], upper[codes]], axis=1).ravel()
    edges = np.stack([codes - 0.5, codes + 0.5], axis=1).ravel()
    return np.interp(np.interp(_RANKS, ranks + _SLOPE[: ranks.size], edges), np.arange(256), LINEAR)


def towards(own: Tones, gain: float, midway: Floats, part: float = 1.0) -> Floats:
    """Linear light 0…1 for each code, (3, 256), monotone: `own` times `gain`, brought to `midway` light at `_RANKS`.

    `part`, 0…1, of the way. A picture that is midway already gets its gain alone, to the bit.
    """
    plain = np.minimum(gain * LINEAR, 1)
    moves = midway - gain * own.light
    move = np.stack([np.interp(ranks, _RANKS, each) for ranks, each in zip(own.ranks, moves, strict=True)])
    most = plain * (2.0**MOST_EV - 1)
    curve = np.clip(plain + part * np.clip(move, -most, most), 0, 1)
    return np.asarray(np.maximum.accumulate(curve, axis=1))


class Midway:
    """The curves of a clip, one when it is asked for; the tones of one window are in memory."""

    def __init__(self, look: Callable[[int], tuple[Shares, float]], track: Track) -> None:
        """`look`: the histogram of a place, and the gain in linear light that brings it to the track's wanted level."""
        self._look, self._track = look, track
        self._seen: OrderedDict[int, tuple[Tones, float]] = OrderedDict()

    def curve(self, place: int) -> Floats:
        """As `towards`."""
        track = self._track
        near = np.arange(max(0, place - REACH), min(track.gain.size, place + REACH + 1))
        weights = np.exp(-0.5 * ((near - place) / SPREAD) ** 2) * (1 - track.stays[near])
        own, gain = self._tones(place)
        if weights.sum() < 1e-6:
            return towards(own, gain, gain * own.light)
        scales = weights / weights.sum() * 2.0 ** (track.wanted[place] - track.wanted[near])
        midway = np.zeros_like(own.light)
        for neighbour, scale in zip(near.tolist(), scales.tolist(), strict=True):
            if scale:
                other, its_gain = self._tones(neighbour)
                midway += scale * its_gain * other.light
        return towards(own, gain, midway, 1 - float(track.stays[place]))

    def _tones(self, place: int) -> tuple[Tones, float]:
        if place not in self._seen:
            shares, gain = self._look(place)
            self._seen[place] = tones(shares), gain
            if len(self._seen) > 2 * REACH + 2:
                self._seen.popitem(last=False)
        return self._seen[place]
