"""The films of a shoot: what there is, the files, and one made now."""

from __future__ import annotations

import asyncio
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Path, Response
from fastapi.responses import FileResponse

from api.rig import TheRig
from controller.results.series.asked import ClipAsked
from controller.store.clips import clip_file, no_such_clip
from controller.words.clips import Clip

router = APIRouter(prefix="/shoots/{shoot}/clips", tags=["clips"])


@router.get("")
async def list_clips(shoot: str, rig: TheRig) -> list[Clip]:
    """Films of this shoot that are made, being made or to come, oldest window first."""
    return await rig.clips.all(shoot)


@router.post("", status_code=202)
async def make_clip_now(shoot: str, rig: TheRig, response: Response, wanted: ClipAsked | None = None) -> Clip:
    """Have the film of all frames so far made, or of some of them, after those that were asked for before.

    What the body leaves out is as usual. How it goes is told in the event stream (`clip`) and in the list.
    """
    asked = wanted or ClipAsked()
    made = await rig.clips.ask(shoot, asked.options(), asked.frames())
    response.headers["Location"] = f"/api/v1/shoots/{quote(shoot)}/clips/{quote(made.name)}"
    return made


@router.get(
    "/{name}",
    response_class=FileResponse,
    responses={
        200: {"content": {"video/mp4": {}}},
        206: {"description": "The part of it that `Range` asked for", "content": {"video/mp4": {}}},
        416: {"description": "It has no such part"},
    },
)
async def clip(
    shoot: str,
    name: Annotated[str, Path(description="as the list has it, ending in .mp4")],
    rig: TheRig,
) -> Response:
    """The film itself. Parts of it can be asked for (`Range`, RFC 9110), so that a phone shows it as it loads."""
    known = await rig.store.shoot(shoot)
    try:
        path = await asyncio.to_thread(clip_file, rig.directory, known.id, name)
        stat = await asyncio.to_thread(path.stat)
    except FileNotFoundError:
        raise no_such_clip(shoot, name) from None
    return FileResponse(path, media_type="video/mp4", stat_result=stat, headers={"Cache-Control": "private, no-cache"})
