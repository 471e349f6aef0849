"""How well a night was steadied, against its truth: the figures that tests and `tests/bench/steadying.py` share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from controller.results.clip.steady import steady
from controller.results.clip.tone import Dither, gain_for, histogram, log2_luminance
from tests.results.nights import Floats, Night, to_linear

LUMA = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709
_LINEAR = to_linear(np.arange(256.0))
SIZE = (96, 64)
Pictures = list[NDArray[np.uint8]]


@dataclass(frozen=True)
class Verdict:
    """EV. `rms` and `step` of what is faster than the eye takes for a change of light, against the ideal; `drift`: by
    how much what is slower left that of the pictures as taken; `event`: by how much a flash stands out more or less."""

    rms: float
    step: float
    drift: float
    event: float


def level(pixels: NDArray[np.uint8]) -> float:
    """log2 of mean linear luminance, computed here on its own."""
    return float(np.log2((_LINEAR[pixels] @ LUMA).mean()))


def levels_of(pictures: Pictures) -> Floats:
    return np.array([level(each) for each in pictures])


def slow(track: Floats, spread: float) -> Floats:
    """What a Gaussian of this many frames lets pass."""
    reach = int(4 * spread)
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / spread) ** 2)
    return np.convolve(np.pad(track, reach, mode="reflect", reflect_type="odd"), bell / bell.sum(), mode="valid")


def residual(track: Floats) -> tuple[float, float]:
    """rms of what is faster than the eye takes for a change of light, and its largest step."""
    fast = track - slow(track, 4)
    return float(np.sqrt(np.mean(fast**2))), float(np.abs(np.diff(fast)).max())


class Truth:
    """Of a night: its pictures as taken, and how light they are beside what they should be."""

    def __init__(self, night: Night, size: tuple[int, int] = SIZE) -> None:
        self.taken = pictures(night, size)
        self.before = levels_of(self.taken)
        self._ideal = levels_of(pictures(night.ideal.calm, size))
        self._flashes = night.event_ev != 0
        calm, flashes = night.calm, np.flatnonzero(self._flashes)
        unlit = levels_of([calm.picture(number, size) for number in flashes])
        self._stood_out = self.before[self._flashes] - unlit

    def judge(self, after: Floats) -> Verdict:
        """`after`: brightness of the pictures as they are shown. Frames with events are judged by themselves."""
        quiet = np.flatnonzero(~self._flashes)
        off = (after - self._ideal)[quiet]
        fast = off - slow(off, 4)
        beside = np.diff(quiet) == 1
        around = np.interp(np.arange(after.size), quiet, slow(off, 4))
        stands_out = (after - self._ideal - around)[self._flashes]
        return Verdict(
            rms=float(np.sqrt(np.mean(fast**2))),
            step=float(np.abs(np.diff(fast))[beside].max()),
            drift=float(np.abs(slow(off, 15)).max()),
            event=float(np.abs(stands_out - self._stood_out).max(initial=0.0)),
        )


def pictures(night: Night, size: tuple[int, int] = SIZE) -> Pictures:
    return [night.picture(number, size) for number in range(night.scene_ev.size)]


def steadied(night: Night, taken: Pictures) -> Pictures:
    """By the project's own parts, as a clip is."""
    shares = [histogram(picture) for picture in taken]
    track = steady(np.array([log2_luminance(each) for each in shares]), night.exposure_ev)
    height, width = taken[0].shape[:2]
    dither = Dither(width, height)
    gains = [gain_for(each, gain) for each, gain in zip(shares, track.gain, strict=True)]
    return [dither.apply(Image.fromarray(p), gain, n) for n, (p, gain) in enumerate(zip(taken, gains, strict=True))]


def averaged(taken: Pictures) -> Pictures:
    """The plain way, for comparison: 8-bit means brought to their moving average over 15 frames."""
    means = np.array([picture.mean() for picture in taken])
    wanted = np.convolve(np.pad(means, 7, mode="edge"), np.ones(15) / 15, mode="valid")
    factors = wanted / means
    return [np.clip(p.astype(float) * f, 0, 255).round().astype(np.uint8) for p, f in zip(taken, factors, strict=True)]
