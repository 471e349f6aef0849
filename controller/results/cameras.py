"""The cameras of one shoot: what each got, and how close together they released."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

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


def main_camera(frames: Iterable[Frame], wanted: str | None = None) -> str:
    """As `chosen_camera`, by the frames themselves."""
    slots: Counter[str] = Counter()
    got: Counter[str] = Counter()
    for frame in frames:
        slots[frame.camera] += 1
        got[frame.camera] += frame.state not in (FrameState.MISSED, FrameState.LOST)
    return chosen_camera({camera: got[camera] for camera in slots}, wanted)


def only(camera: str, there: Iterable[str]) -> list[str]:
    """A line for people where other cameras than that of a clip have frames; none where they have not."""
    others = sorted(set(there) - {camera})
    return [f"frames of {camera} only; for {', '.join(others)} make another with --camera"] if others else []


def chosen_camera(got: Mapping[str, int], wanted: str | None = None) -> str:
    """The camera that a report or clip is of: the one `wanted`, else that of the most frames, the first of equals.

    `got` has the frames of each that has slots; empty where there is none. Raises BadInput (no-such-camera) where the
    wanted one has none.
    """
    if wanted is not None and wanted not in got:
        there = ", ".join(sorted(got)) or "none yet"
        remedy = f"Name one that has frames: {there}"
        raise BadInput("no-such-camera", f"the shoot has no frame of {wanted}", "--camera", remedy)
    return wanted or min(got, key=lambda name: (-got[name], name), default="")
