"""The cameras on this rig, and their settings."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import Field

from api.live import LiveStream
from api.rig import TheRig
from controller.words.documents import CameraNow, Document
from controller.words.looking import Seen, TestFrame
from controller.words.settings import Setting, SettingNow

router = APIRouter(prefix="/cameras", tags=["cameras"])


class Wanted(Document):
    """Settings to change: ours by name, each with one of the body's own texts or a number that one of them means."""

    settings: dict[Setting, str] = Field(min_length=1, max_length=len(Setting))


class Exposure(Document):
    """What a test frame is taken with; what is left out stays as the body has it."""

    shutter_s: float | None = Field(None, gt=0, le=3600, description="seconds")
    aperture: float | None = Field(None, ge=0.5, le=128, description="f-number")
    iso: float | None = Field(None, ge=1, le=10_000_000)


Centre = Annotated[float, Query(ge=0, le=1, description="middle of the magnified part, as a fraction of the picture")]
Zoom = Annotated[float, Query(ge=1, le=16, description="how many times the picture is magnified")]


@router.get("")
async def list_cameras(rig: TheRig) -> list[CameraNow]:
    """Every camera that is attached, or was and is missed."""
    return rig.cameras()


@router.get("/{camera}/settings")
async def read_settings(rig: TheRig, camera: str) -> list[SettingNow]:
    """The body's settings, read between releases; those that it has, with what each can be set to."""
    return await rig.dials.read(camera)


@router.put("/{camera}/settings")
async def change_settings(rig: TheRig, camera: str, wanted: Wanted) -> list[SettingNow]:
    """Change settings one after the other, each read back; those changed before one that is refused stay changed."""
    return [await rig.dials.set(camera, setting, value) for setting, value in wanted.settings.items()]


@router.get(
    "/{camera}/live.mjpeg",
    response_class=Response,
    responses={200: {"content": {"multipart/x-mixed-replace": {}}}},
)
async def live(
    rig: TheRig,
    camera: str,
    per_s: Annotated[float, Query(ge=0.2, le=10, description="pictures a second at most")] = 3.0,
    zoom: Zoom = 1.0,
    x: Centre = 0.5,
    y: Centre = 0.5,
    width: Annotated[int | None, Query(ge=16, le=10_000, description="pixels: wider pictures are made smaller")] = None,
) -> Response:
    """Live view as a stream of JPEGs. It ends with the first release: frames come first. 409 while a shoot runs."""
    rig.looking.require_free(camera)
    return await LiveStream.begin(rig.looking.live(camera, per_s, _part(zoom, x, y), width))


@router.get("/{camera}/focus")
async def focus(rig: TheRig, camera: str, zoom: Zoom = 1.0, x: Centre = 0.5, y: Centre = 0.5) -> Seen:
    """Sharpness and histogram of what is before the lens now, or of a part of it. 409 while a shoot runs."""
    return await rig.looking.focus(camera, _part(zoom, x, y))


@router.post("/{camera}/test-frame")
async def take_test_frame(rig: TheRig, camera: str, exposure: Exposure | None = None) -> TestFrame:
    """Take a frame that belongs to no shoot; it stays on the card. 409 while a shoot has the camera."""
    wanted = exposure or Exposure()
    return await rig.looking.test_frame(camera, wanted.shutter_s, wanted.aperture, wanted.iso)


@router.get("/{camera}/test-frame.jpg", response_class=Response, responses={200: {"content": {"image/jpeg": {}}}})
async def show_test_frame(rig: TheRig, camera: str) -> Response:
    """The small picture of the last test frame."""
    return Response(rig.looking.picture(camera), media_type="image/jpeg", headers={"Cache-Control": "no-store"})


def _part(zoom: float, x: float, y: float) -> tuple[float, float, float, float]:
    """The part that is seen: as near to the wished middle as the picture's edges allow."""
    half = 0.5 / zoom
    x, y = (min(max(each, half), 1 - half) for each in (x, y))
    return x - half, y - half, x + half, y + half
