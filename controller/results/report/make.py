"""What a shoot came to: planned against got, what is missing and why. Pure: documents in, document out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from controller.results.report.documents import ClipMade, Report
from controller.results.report.gather import Gatherer
from controller.results.report.integrity import Integrity
from controller.words.documents import Frame, Note, Shoot


def report(
    shoot: Shoot,
    frames: Iterable[Frame],
    notes: Sequence[Note],
    integrity: Integrity | None = None,
    camera: str | None = None,
    clips: Sequence[ClipMade] = (),
) -> Report:
    """All that the log tells of `shoot`; `frames` are all of its slots, in order.

    Of several cameras it is `camera`, or the one with the most frames. Raises BadInput where that one has none.
    """
    gather = Gatherer(shoot)
    for frame in frames:
        gather(frame)
    return gather.report(notes, integrity, camera, clips)
