"""The body's clock against the rig's."""

from __future__ import annotations

from controller.decide.checks.choosing import mending
from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine
from controller.words.phrases import length
from controller.words.settings import NOW, Finding, Setting

NAME = "body clock"
_OFF_S = 60.0  # the log has the true time; the pictures carry the body's (common practice, no source)


def body_clock(camera: CameraFacts, _: PlanFacts | None) -> Finding:
    """Within a minute. It is not set by a clock that nothing keeps."""
    off_s = camera.clock_off_s
    if off_s is None:
        return doubt(NAME, "The body does not tell its clock", "Look at it in the body's menu", camera.id)
    if abs(off_s) <= _OFF_S:
        return fine(NAME, "The body's clock agrees with the rig's to a minute", camera.id)
    what = f"The body's clock is {length(abs(off_s))} {'ahead of' if off_s > 0 else 'behind'} the rig's"
    if camera.rig_synchronised is False:
        return doubt(NAME, what, "See which of the two is right: nothing keeps the rig's", camera.id)
    fix = mending(camera, Setting.CLOCK, lambda choice: choice == NOW)
    by_hand = "" if fix else "; this body does not let it be set from here"
    return doubt(NAME, what, f"Set date and time in the body's menu{by_hand}", camera.id, fix)
