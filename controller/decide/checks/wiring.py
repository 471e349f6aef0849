"""What hangs on the rig's pins."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine, wrong
from controller.words.settings import Finding

NAME = "wiring"


def wiring(rig: RigFacts, plan: PlanFacts | None) -> Finding | None:
    """A document that can be used, pins that work, an input where the plan waits for pulses; left out without any."""
    if rig.wiring_refusal is not None:
        return wrong(NAME, rig.wiring_refusal, "Put rig.toml right, then start the service again")
    if plan is not None and plan.on_pulses and not rig.has_trigger:
        what = "The plan waits for pulses, and this rig has no input for them"
        return wrong(NAME, what, "Add [trigger] to rig.toml, or choose another pace")
    if rig.contacts_of is not None and rig.contacts_of not in (names := [camera.id for camera in rig.cameras]):
        what = f"[wired_release] is for {rig.contacts_of}, and this rig has {', '.join(names) or 'no camera'}"
        return doubt(NAME, what, "Name one of them as `camera`")
    if rig.wiring_troubles:
        return doubt(NAME, "; ".join(rig.wiring_troubles), "Look at the wiring and its pins")
    return fine(NAME, "rig.toml can be used") if rig.wired else None
