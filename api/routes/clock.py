"""The rig's time: what is known of it, and a person's word where nothing else tells."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter
from pydantic import Field, model_validator

from api.rig import TheRig
from controller.words.documents import Document, KeptBy, RigClock
from controller.words.errors import BadInput
from controller.words.times import Utc

router = APIRouter(prefix="/clock", tags=["clock"])


class Told(Document):
    """One of the two: the phone's time, or the camera whose clock is to be taken."""

    utc: Utc | None = Field(None, description="the time now, by the phone's clock")
    camera: Annotated[str, Field(max_length=60)] | None = None

    @model_validator(mode="after")
    def _one(self) -> Told:
        if (self.utc is None) == (self.camera is None):
            raise ValueError("give utc or camera")
        return self


@router.get("", response_model=RigClock)
async def clock(rig: TheRig) -> RigClock:
    """The rig's time, who keeps it, and whether planned windows wait for it."""
    return rig.time.now()


@router.post("", response_model=RigClock)
async def tell(told: Told, rig: TheRig) -> RigClock:
    """Take the phone's time, or a camera's, until the network sets the machine's clock. 409 where it keeps it."""
    if told.camera is None:
        assert told.utc is not None
        return await rig.time.tell(told.utc, KeptBy.PHONE)
    off_s = rig.dials.clock_off_s(told.camera)
    if off_s is None:
        what, remedy = "this camera does not tell its clock, or is not there", "Take the phone's time"
        raise BadInput("no-camera-clock", what, told.camera, remedy)
    return await rig.time.tell(rig.clock.utc() + off_s, KeptBy.CAMERA)
