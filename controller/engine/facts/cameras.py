"""Facts of a camera, asked for between releases."""

from __future__ import annotations

import logging

from controller.camera.link import CameraLink
from controller.decide.checks.facts import CameraFacts
from controller.decide.safe_interval import needs_of
from controller.engine.dials import Dials
from controller.words.bodies import BodySeen
from controller.words.errors import DuskhandError

log = logging.getLogger(__name__)


async def camera_facts(link: CameraLink, dials: Dials, seen: list[BodySeen], synchronised: bool | None) -> CameraFacts:
    """What is known of the camera; `seen` are the bodies that were watched while they shot, the newest first.

    `synchronised` is whether the rig's clock is.
    """
    opened = link.opened
    if opened is None:
        return CameraFacts(id=link.id, address=link.address, trouble=link.trouble)
    bodies = [body for body in seen if body.key == opened.key]
    sizes = [body.frame_bytes for body in bodies if body.frame_bytes is not None]
    needs = [found for body in bodies if (found := needs_of(body)) is not None]
    trouble, status = None, None
    try:
        settings = {now.setting: now for now in await dials.read(link.id)}
        status = await link.status()
    except DuskhandError as error:
        log.info("%s: settings not read: %s", link.id, error)
        settings, trouble = {}, str(error)
    return CameraFacts(
        id=link.id,
        address=link.address,
        model=opened.model,
        trouble=trouble,
        settings=settings,
        battery_percent=(status or opened).battery_percent,
        free_bytes=(status or opened).free_bytes,
        free_frames=(status or opened).free_frames,
        frame_bytes=sizes[0] if sizes else None,
        needs=needs[0] if needs else None,
        clock_off_s=dials.clock_off_s(link.id),
        rig_synchronised=synchronised,
    )
