"""The dark frame after a long exposure takes as long as the exposure."""

from __future__ import annotations

from controller.decide.checks.choosing import mending
from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine, wrong
from controller.words.phrases import length
from controller.words.settings import Finding, Setting

NAME = "long-exposure noise reduction"
_FROM_S = 1.0  # bodies begin with it there (common practice, no source)
_REMEDY = "Switch long-exposure noise reduction off in the body's menu"


def noise_reduction(camera: CameraFacts, plan: PlanFacts | None) -> Finding | None:
    """Off; of no account where no exposure is long."""
    value = camera.value(Setting.NOISE_REDUCTION)
    if value in ("off", "0"):
        return fine(NAME, "Long-exposure noise reduction is off", camera.id)
    if plan is not None and plan.longest_exposure_s < _FROM_S:
        return None
    if value in ("on", "auto", "1"):
        fix = mending(camera, Setting.NOISE_REDUCTION, lambda choice: choice == "off")
        what = "Long-exposure noise reduction is on: a dark frame as long as the exposure follows each"
        if plan is not None and plan.least_gap_s < plan.longest_exposure_s:
            what += f", {length(plan.longest_exposure_s)}, and the gap is {length(plan.least_gap_s)}"
            return wrong(NAME, what, _REMEDY, camera.id, fix)
        return doubt(NAME, what, _REMEDY, camera.id, fix)
    what = "The body does not tell whether it takes a dark frame after each long exposure"
    return doubt(NAME, what, _REMEDY, camera.id)
