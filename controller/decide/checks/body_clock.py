"""The body's clock against the rig's."""

from __future__ import annotations

from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine
from controller.words.phrases import length
from controller.words.settings import Finding

NAME = "body clock"
_OFF_S = 60.0  # the log has the true time; the pictures carry the body's (common practice, no source)


def body_clock(camera: CameraFacts, _: PlanFacts | None) -> Finding:
    """Within a minute."""
    off_s = camera.clock_off_s
    remedy = "Set date and time in the body's menu"
    if off_s is None:
        return doubt(NAME, "The body does not tell its clock", "Look at it in the body's menu", camera.id)
    if abs(off_s) > _OFF_S:
        way = "ahead of" if off_s > 0 else "behind"
        return doubt(NAME, f"The body's clock is {length(abs(off_s))} {way} the rig's", remedy, camera.id)
    return fine(NAME, "The body's clock agrees with the rig's to a minute", camera.id)
