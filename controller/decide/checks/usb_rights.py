"""Whether this user may open the cameras' nodes on USB."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine, wrong
from controller.words.settings import Finding

NAME = "USB rights"


def usb_rights(rig: RigFacts, _: PlanFacts | None) -> Finding | None:
    """Left out where no camera is on USB."""
    if rig.denied is None:
        remedy = "See that this user may read and write /dev/bus/usb"
        if any(camera.address.startswith("usb:") for camera in rig.cameras):
            return doubt(NAME, "Which devices are on USB could not be read", remedy)
        return None
    if rig.denied:
        what = f"This user may not open {', '.join(rig.denied)}"
        remedy = "Put this user into the group plugdev, install libgphoto2's udev rules, and plug the camera in again"
        return wrong(NAME, what, remedy)
    if any(camera.address.startswith("usb:") for camera in rig.cameras):
        return fine(NAME, "Cameras on USB may be opened")
    return None
