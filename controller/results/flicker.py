"""How much a sequence of brightnesses flickers."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from controller.words.documents import Document


class Flicker(Document):
    """In EV, that is, in log2 of the mean luminance. A step of 0.0144 EV (1 %) is the threshold of sight."""

    frames: int
    first_rms_ev: float
    second_rms_ev: float
    largest_step_ev: float


def flicker(log2_luminance: ArrayLike) -> Flicker | None:
    """RMS of the first and second differences of consecutive frames, and the largest first one; None below 3 frames."""
    track = np.asarray(log2_luminance, dtype=float)
    if track.size < 3:
        return None
    first = np.diff(track)
    second = np.diff(track, n=2)
    return Flicker(
        frames=int(track.size),
        first_rms_ev=float(np.sqrt(np.mean(first**2))),
        second_rms_ev=float(np.sqrt(np.mean(second**2))),
        largest_step_ev=float(np.max(np.abs(first))),
    )
