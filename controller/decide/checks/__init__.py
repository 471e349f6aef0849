"""Is this rig ready for this plan: one file a check, each pure, from facts to a finding."""

from __future__ import annotations

from collections.abc import Callable

from controller.decide.checks.attached import attached
from controller.decide.checks.battery import battery
from controller.decide.checks.body_clock import body_clock
from controller.decide.checks.card_room import card_room
from controller.decide.checks.card_target import card_target
from controller.decide.checks.drive import drive
from controller.decide.checks.exposure_mode import exposure_mode
from controller.decide.checks.facts import CameraFacts, PlanFacts, RigFacts
from controller.decide.checks.file_format import file_format
from controller.decide.checks.focus import focus
from controller.decide.checks.interval import interval
from controller.decide.checks.iso_auto import iso_auto
from controller.decide.checks.motion import motion
from controller.decide.checks.no_camera import no_camera
from controller.decide.checks.noise_reduction import noise_reduction
from controller.decide.checks.pi_heat import pi_heat
from controller.decide.checks.pi_power import pi_power
from controller.decide.checks.plan_cameras import plan_cameras
from controller.decide.checks.power_off import power_off
from controller.decide.checks.rig_clock import rig_clock
from controller.decide.checks.rig_disk import rig_disk
from controller.decide.checks.second_places import second_places
from controller.decide.checks.stabilisation import stabilisation
from controller.decide.checks.usb_rights import usb_rights
from controller.decide.checks.volume_monitor import volume_monitor
from controller.decide.checks.wiring import wiring
from controller.words.settings import Finding, Level

OF_CAMERA: tuple[Callable[[CameraFacts, PlanFacts | None], Finding | None], ...] = (
    attached,
    exposure_mode,
    focus,
    iso_auto,
    file_format,
    noise_reduction,
    card_target,
    card_room,
    battery,
    body_clock,
    power_off,
    drive,
    interval,
    stabilisation,
)
OF_RIG: tuple[Callable[[RigFacts, PlanFacts | None], Finding | None], ...] = (
    no_camera,
    plan_cameras,
    volume_monitor,
    usb_rights,
    pi_power,
    pi_heat,
    rig_disk,
    rig_clock,
    motion,
    wiring,
    second_places,
)

_ORDER = (Level.FAIL, Level.WARN, Level.PASS)


def look(rig: RigFacts, plan: PlanFacts | None) -> list[Finding]:
    """Every finding, the worst first. Of a camera that is not there only that is told."""
    found = [check(rig, plan) for check in OF_RIG]
    for camera in rig.cameras:
        checks = OF_CAMERA if camera.there and camera.trouble is None else OF_CAMERA[:1]
        found += [check(camera, plan) for check in checks]
    return sorted((f for f in found if f is not None), key=lambda f: _ORDER.index(f.level))


def summed_up(found: list[Finding], plan: PlanFacts | None) -> str:
    """One line over all."""
    fails, doubts = (sum(f.level is level for f in found) for level in (Level.FAIL, Level.WARN))
    if fails:
        return "1 thing to mend first" if fails == 1 else f"{fails} things to mend first"
    ready = "Ready to shoot" if plan is None else "Ready for this plan"
    return f"{ready}, with {doubts} to look at" if doubts else ready
