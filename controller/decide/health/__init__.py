"""Is the rig well while it shoots? One file per check; all of them pure.

Checks before a shoot (controller/decide/checks) ask whether it may begin; these ask, all the time, whether somebody has
to come. Both share their names, and where one thing is looked at by both its lines and remedies.
"""

from __future__ import annotations

from collections.abc import Callable

from controller.decide.health.battery import battery
from controller.decide.health.black import black_frames
from controller.decide.health.blurred import blurred
from controller.decide.health.camera import camera
from controller.decide.health.card_room import card_room
from controller.decide.health.facts import Readings, Sign
from controller.decide.health.films import films
from controller.decide.health.frozen import frozen
from controller.decide.health.made_anew import made_anew
from controller.decide.health.metering import metering
from controller.decide.health.missed_slots import missed_slots
from controller.decide.health.rig_clock import rig_clock
from controller.decide.health.rig_disk import rig_disk
from controller.decide.health.second_places import second_places
from controller.decide.health.shoot import frame_log, shoot
from controller.decide.health.temperature import temperature
from controller.decide.health.under_voltage import under_voltage
from controller.decide.health.wiring import wiring

CHECKS: tuple[Callable[[Readings], list[Sign]], ...] = (
    shoot,
    camera,
    frame_log,
    made_anew,
    under_voltage,
    missed_slots,
    black_frames,
    frozen,
    metering,
    card_room,
    rig_disk,
    battery,
    temperature,
    blurred,
    wiring,
    rig_clock,
    second_places,
    films,
)
"""The most urgent first."""


def signs(now: Readings) -> list[Sign]:
    """What every check says, in that order."""
    return [sign for check in CHECKS for sign in check(now)]
