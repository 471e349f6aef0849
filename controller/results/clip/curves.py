"""What each picture of a clip is changed by, in linear light: one curve from its codes to the light that is shown."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from controller.results.clip.exif import exposures
from controller.results.clip.looks import Look
from controller.results.clip.steady import steady
from controller.results.clip.tone import LINEAR, Floats, Shares, gain_for

_DIGITS = 4  # of gains in EV: rounded, so that the parts of a growing clip stay as they are


class Curves:
    """Of the pictures of one clip. `remarks`, for people: what is known of their exposures."""

    def __init__(self, looks: Sequence[Look], shares: Callable[[Look], Shares], mode: str) -> None:
        """`shares`: the histogram of a look; `mode` as in ClipOptions.steady."""
        self._looks, self._shares = looks, shares
        frames = [look.picture.frame for look in looks]
        exposure_ev, self.remarks = exposures(frames, [look.told for look in looks])
        self.track = steady(np.array([look.level for look in looks]), exposure_ev)
        self.largest_gain_ev = 0.0

    def curve(self, place: int) -> Floats:
        """Linear light 0…1 by code, (256,)."""
        change_ev = round(float(self.track.gain[place]), _DIGITS)
        gain = gain_for(self._shares(self._looks[place]), change_ev)
        self.largest_gain_ev = max(self.largest_gain_ev, abs(math.log2(gain)))
        return np.minimum(gain * LINEAR, 1)
