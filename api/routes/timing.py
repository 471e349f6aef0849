"""How long the rig's bodies take over their frames, and the shortest interval that one of them holds."""

from __future__ import annotations

from fastapi import APIRouter, Request
from pydantic import Field

from api.asked import while_asked
from api.rig import Rig, TheRig
from controller.decide.safe_interval import needs_of, timed
from controller.decide.steady_beat import EXPOSURE_S, LONGEST_S
from controller.engine.dials import link_of
from controller.words.bodies import BeatFound, BodySeen, BodyTimed
from controller.words.documents import Document

router = APIRouter(prefix="/cameras", tags=["cameras"])


class BeatWanted(Document):
    exposure_s: float = Field(EXPOSURE_S, gt=0, le=LONGEST_S, description="true seconds of each frame's exposure")


@router.get("/{camera}/timing")
async def read_timing(rig: TheRig, camera: str) -> BodyTimed:
    """What the body was seen to take over its frames, and what of gaps and intervals is safe with it."""
    return timed(await _body(rig, camera))


@router.post("/{camera}/beat")
async def find_beat(rig: TheRig, request: Request, camera: str, wanted: BeatWanted | None = None) -> BeatFound:
    """The shortest interval that the body holds, by test frames at shorter and shorter ones, which takes minutes.

    Up to 96 frames, which stay on the card. It is kept with the body. 409 while a shoot has the camera, and where one
    comes meanwhile.
    """
    return await while_asked(request, _beat(rig, camera, (wanted or BeatWanted()).exposure_s))


async def _beat(rig: Rig, camera: str, exposure_s: float) -> BeatFound:
    body = await _body(rig, camera)
    found = await rig.looking.beat(camera, exposure_s, needs_of(body))
    await rig.store.put_beat(body.model, body.serial, found)
    return found


async def _body(rig: Rig, camera: str) -> BodySeen:
    opened = link_of(rig.links, camera).session()
    known = await rig.bodies.known(rig.store)
    blank = BodySeen(model=opened.model, serial=opened.serial, seen_utc=rig.clock.utc())
    return next((body for body in known if body.key == opened.key), blank)
