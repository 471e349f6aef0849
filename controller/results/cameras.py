"""The cameras of one shoot: what each got, and how close together they released."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from controller.words.documents import Document, Frame, FrameState
from controller.words.errors import BadInput


class Share(Document):
    """What one camera of several did. Skew is how far its releases were from the first camera's in the same slots."""

    camera: str
    slots: int
    frames: int
    missed: int
    lost: int
    together: int = 0
    skew_p50_ms: float | None = None
    skew_p99_ms: float | None = None
    skew_max_ms: float | None = None


def main_camera(frames: Sequence[Frame], wanted: str | None = None) -> str:
    """The camera that a report or clip is of: the one `wanted`, else that of the most frames, the first of equals.

    Empty where there is no frame. Raises BadInput (no-such-camera) where the wanted one has none.
    """
    counted = Counter(frame.camera for frame in frames)
    got = Counter(f.camera for f in frames if f.state not in (FrameState.MISSED, FrameState.LOST))
    if wanted is not None and wanted not in counted:
        there = ", ".join(sorted(counted)) or "none yet"
        remedy = f"Name one that has frames: {there}"
        raise BadInput("no-such-camera", f"the shoot has no frame of {wanted}", "--camera", remedy)
    return wanted or min(counted, key=lambda name: (-got[name], name), default="")


def shares(frames: Sequence[Frame]) -> list[Share]:
    """A line for each camera, by name; none where only one shot."""
    names = sorted({frame.camera for frame in frames})
    return [_share(name, [frame for frame in frames if frame.camera == name]) for name in names if len(names) > 1]


def _share(name: str, frames: Sequence[Frame]) -> Share:
    states = Counter(frame.state for frame in frames)
    missed, lost = states[FrameState.MISSED], states[FrameState.LOST]
    share = Share(camera=name, slots=len(frames), frames=len(frames) - missed - lost, missed=missed, lost=lost)
    apart = [abs(frame.skew_ms) for frame in frames if frame.skew_ms is not None]
    if apart:
        share.together = len(apart)
        p50, p99 = np.percentile(apart, [50, 99])
        share.skew_p50_ms, share.skew_p99_ms, share.skew_max_ms = float(p50), float(p99), max(apart)
    return share
