"""The gap against what the body needs to write a frame."""

from __future__ import annotations

from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine, wrong
from controller.words.phrases import length
from controller.words.settings import Finding

NAME = "interval"
_RESERVE = 1.2  # cards have slow moments (common practice, no source)


def interval(camera: CameraFacts, plan: PlanFacts | None) -> Finding | None:
    """The shortest gap between exposures against the slowest write that was measured; left out without a plan."""
    if plan is None:
        return None
    gap_s, write_s = plan.least_gap_s, camera.write_s
    if gap_s <= 0:
        what = f"An exposure of up to {length(plan.longest_exposure_s)} leaves no gap before the next"
        return wrong(NAME, what, "Use longer intervals or shorter exposures", camera.id)
    if write_s is None:
        what = f"How long this body takes to write a frame was not seen yet; the shortest gap is {length(gap_s)}"
        return doubt(NAME, what, "Shoot some twenty frames with these files, and look again", camera.id)
    told = f"The shortest gap is {length(gap_s)}, and this body was seen to take {length(write_s)} to write a frame"
    remedy = "Use longer intervals or a longer min_gap_s, a faster card, or smaller files"
    if write_s > gap_s:
        return wrong(NAME, told, remedy, camera.id)
    if write_s * _RESERVE > gap_s:
        return doubt(NAME, told, remedy, camera.id)
    return fine(NAME, told, camera.id)
