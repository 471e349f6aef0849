"""A desktop's volume monitor takes a camera as soon as it is plugged in."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine, wrong
from controller.words.settings import Finding

NAME = "volume monitor"


def volume_monitor(rig: RigFacts, _: PlanFacts | None) -> Finding | None:
    """A failure where a camera on USB does not answer; left out where processes cannot be listed."""
    if rig.holders is None:
        return None
    if not rig.holders:
        return fine(NAME, "No desktop program takes the camera")
    what = f"{' and '.join(rig.holders)} of the desktop may hold the camera"
    remedy = "systemctl --user mask --now gvfs-gphoto2-volume-monitor on the rig, then plug the camera in again"
    if any(camera.address.startswith("usb:") and not camera.there for camera in rig.cameras):
        return wrong(NAME, what, remedy)
    return doubt(NAME, what, remedy)
