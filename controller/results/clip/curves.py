"""What each picture of a clip is changed by, in linear light: one curve from its codes to the light that is shown."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from controller.results.clip.exif import exposures
from controller.results.clip.looks import Look
from controller.results.clip.midway import Midway
from controller.results.clip.over_gaps import Gaps
from controller.results.clip.sidecar import FrameGain
from controller.results.clip.steady import Track, steady
from controller.results.clip.tone import LINEAR, Floats, Shares, gain_for, log2_luminance
from controller.words.documents import Frame

_CUT_EV = 0.03  # a step that is worth a remark
_DIGITS = 4  # of gains in EV: rounded, so that the parts of a growing clip stay as they are


class Curves:
    """Of the pictures of one clip. `remarks`, for people: what is known of their exposures, and of gaps."""

    def __init__(self, looks: Sequence[Look], shares: Callable[[Look], Shares], mode: str) -> None:
        """`shares`: the histogram of a look; `mode` as in ClipOptions.steady."""
        self._looks, self._shares = looks, shares
        frames = [look.picture.frame for look in looks]
        self._exposure_ev, self.remarks = exposures(frames, [look.told for look in looks])
        gaps = Gaps.of(
            [frame.due_utc for frame in frames],
            [frame.interval_s for frame in frames],
            [frame.shoot for frame in frames],
        )
        self.track = steady(np.array([look.level for look in looks]), self._exposure_ev, gaps)
        self.remarks += _cuts(frames, gaps, self.track)
        self._midway = Midway(self._level, self.track) if mode == "tones" else None
        self.largest_gain_ev = 0.0

    def curve(self, place: int) -> Floats:
        """Linear light 0…1 by code, (256,) or (3, 256)."""
        shares, gain = self._level(place)
        if self._midway is None:
            return np.minimum(gain * LINEAR, 1)
        curve = self._midway.curve(place)
        as_light = 2.0 ** log2_luminance(shares, gain) / max(float((shares * curve).sum()), 1e-6)  # the level holds
        return np.asarray(np.minimum(as_light * curve, 1))

    def rows(self) -> list[FrameGain]:
        """What is done to each picture, for other programs; of the level, not of single tones."""
        track = self.track
        return [
            FrameGain(
                seq=look.picture.frame.seq,
                gain_ev=float(track.gain[place]),
                measured_ev=look.level,
                wanted_ev=float(track.wanted[place]),
                exposure_ev=None if math.isnan(ev := float(self._exposure_ev[place])) else ev,
            )
            for place, look in enumerate(self._looks)
        ]

    def _level(self, place: int) -> tuple[Shares, float]:
        """The histogram, and the gain in linear light that brings it to its wanted level."""
        shares = self._shares(self._looks[place])
        gain = gain_for(shares, round(float(self.track.gain[place]), _DIGITS))
        self.largest_gain_ev = max(self.largest_gain_ev, abs(math.log2(gain)))
        return shares, gain


def _cuts(frames: Sequence[Frame], gaps: Gaps, track: Track) -> list[str]:
    """One line on where the film steps in brightness at gaps, for all that could be done."""
    steps = np.where(gaps.cut | (gaps.missing > 0), np.abs(np.diff(track.wanted)), 0)
    places = np.flatnonzero(steps > _CUT_EV)
    if not places.size:
        return []
    first, most = frames[places[0]].seq, float(steps.max())
    where = f"after frame {first}" if places.size == 1 else f"at {places.size} gaps, after frame {first} first"
    return [f"brightness steps by up to {most:.2f} EV {where}: too little was seen there to be steadied over"]
