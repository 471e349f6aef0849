"""How well a night was steadied, against its truth: the figures that tests and `tests/bench/steadying.py` share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from controller.results.clip.over_gaps import Gaps
from controller.results.clip.steady import steady
from controller.results.clip.tone import Dither, gain_for, histogram, log2_luminance
from tests.results.nights import INTERVAL_S, Floats, Night, to_linear

LUMA = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709
_LINEAR = to_linear(np.arange(256.0))
SIZE = (96, 64)
Pictures = list[NDArray[np.uint8]]
Numbers = NDArray[np.int64]


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


def with_gaps(frames: int, lacking: int) -> Numbers:
    """Numbers of the frames that are left where gaps of so many slots are; at each another tread of the stairs."""
    number = np.arange(frames)
    return number[~np.any([(number >= at) & (number < at + lacking) for at in range(62, frames - 30, 47)], axis=0)]


def over_gaps(ideal: Floats, kept: Numbers) -> Floats:
    """What a film of the `kept` frames should show of the `ideal`: what light did in missing slots, drawn out over the
    20 frames to either side as half a cosine, no frame being moved by more than 0.1 EV."""
    shown, moved = ideal[kept], np.zeros(kept.size)
    for before in np.flatnonzero(np.diff(kept) > 1):
        jump = (shown[before + 1] - shown[before]) * (1 - 1 / (kept[before + 1] - kept[before]))
        beside = np.clip((np.arange(kept.size) - before - 0.5) / 20, -1, 1)
        moved += jump / 2 * (np.sin(np.pi / 2 * beside) - np.sign(beside))
    return shown + np.clip(moved, -0.1, 0.1)


class Truth:
    """Of a night: its pictures as taken, and how light they are beside what they should be; of the `kept` ones."""

    def __init__(self, night: Night, size: tuple[int, int] = SIZE, kept: Numbers | None = None) -> None:
        self.kept = np.arange(night.scene_ev.size) if kept is None else kept
        self.taken = [night.picture(number, size) for number in self.kept]
        self.before = levels_of(self.taken)
        self.ideal = over_gaps(levels_of(pictures(night.ideal.calm, size)), self.kept)
        self._flashes = night.event_ev[self.kept] != 0
        calm, flashes = night.calm, self.kept[self._flashes]
        unlit = levels_of([calm.picture(number, size) for number in flashes])
        self._stood_out = self.before[self._flashes] - unlit

    def judge(self, after: Floats) -> Verdict:
        """`after`: brightness of the pictures as they are shown. Frames with events are judged by themselves."""
        quiet = np.flatnonzero(~self._flashes)
        off = (after - self.ideal)[quiet]
        fast = off - slow(off, 4)
        beside = np.diff(quiet) == 1
        around = np.interp(np.arange(after.size), quiet, slow(off, 4))
        stands_out = (after - self.ideal - around)[self._flashes]
        return Verdict(
            rms=float(np.sqrt(np.mean(fast**2))),
            step=float(np.abs(np.diff(fast))[beside].max()),
            drift=float(np.abs(slow(off, 15)).max()),
            event=float(np.abs(stands_out - self._stood_out).max(initial=0.0)),
        )


def pictures(night: Night, size: tuple[int, int] = SIZE) -> Pictures:
    return [night.picture(number, size) for number in range(night.scene_ev.size)]


def steadied(night: Night, taken: Pictures, kept: Numbers | None = None, blind: bool = False) -> Pictures:
    """By the project's own parts, as a clip is; `blind` to the gaps between those `kept`."""
    shares = [histogram(picture) for picture in taken]
    kept = np.arange(len(taken)) if kept is None else kept
    gaps = None if blind else Gaps.of(INTERVAL_S * kept, np.full(kept.size, INTERVAL_S))
    track = steady(np.array([log2_luminance(each) for each in shares]), night.exposure_ev[kept], gaps)
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
