"""The plan's releases against the shortest interval that is safe with the body."""

from __future__ import annotations

from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine, wrong
from controller.decide.safe_interval import seconds
from controller.words.phrases import length
from controller.words.settings import Finding

NAME = "interval"


def interval(camera: CameraFacts, plan: PlanFacts | None) -> Finding | None:
    """The shortest gap and interval against what the body was seen to need; left out without a plan."""
    if plan is None:
        return None
    gap_s, step_s, needs = plan.least_gap_s, plan.least_step_s, camera.needs
    if gap_s <= 0:
        what = f"An exposure of up to {length(plan.longest_exposure_s)} leaves no gap before the next"
        return wrong(NAME, what, "Use longer intervals or shorter exposures", camera.id)
    least = f"The shortest gap is {seconds(gap_s)}"
    if needs is None:
        what = f"What this body needs between two frames was not seen yet; {least[0].lower()}{least[1:]}"
        remedy = "Shoot some twenty frames with these files, or find the steady beat, and look again"
        return doubt(NAME, what, remedy, camera.id)
    told = f"{least}, and this body was seen to need {seconds(needs.gap_s)} ({needs.basis})"
    if gap_s >= needs.safe_gap_s and step_s < needs.safe_step_s:  # the body needs its time however short the exposure
        told = (
            f"The shortest interval is {seconds(step_s)}, and this body needs {seconds(needs.step_s)} ({needs.basis})"
        )
    remedy = "Use longer intervals or a longer min_gap_s, a faster card, or smaller files"
    if gap_s < needs.gap_s or step_s < needs.step_s:
        return wrong(NAME, told, remedy, camera.id)
    if gap_s < needs.safe_gap_s or step_s < needs.safe_step_s:
        return doubt(NAME, told, remedy, camera.id)
    return fine(NAME, told, camera.id)
