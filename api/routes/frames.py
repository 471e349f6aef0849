"""The frame log, and the frames' small pictures."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Header, Path, Query, Response
from fastapi.responses import FileResponse, StreamingResponse
from pydantic import TypeAdapter
from starlette.staticfiles import NotModifiedResponse

from api.rig import Rig, TheRig
from controller.store.export import csv_lines
from controller.words.documents import Frame
from controller.words.errors import NotFound

router = APIRouter(tags=["frames"])

BATCH = 500
"""Frames read from the log at once, and answered where a caller of JSON names no limit."""

ALL = 2**62

_FRAMES = TypeAdapter(list[Frame])


@router.get(
    "/shoots/{shoot}/frames",
    response_model=list[Frame],
    responses={200: {"content": {"text/csv": {"schema": {"type": "string"}}}}},
)
async def frames(
    shoot: str,
    rig: TheRig,
    after: Annotated[int, Query(ge=0, le=2**62, description="only slots numbered above this")] = 0,
    limit: Annotated[
        int | None, Query(ge=1, le=100_000, description="at most so many; left out: 500, and all of them as CSV")
    ] = None,
    every: Annotated[int, Query(ge=1, le=100_000, description="only slots whose number this divides")] = 1,
    camera: Annotated[str | None, Query(description="only frames of this camera")] = None,
    accept: Annotated[str, Header()] = "application/json",
) -> Response:
    """The frame log by slot number, as JSON or, with `Accept: text/csv`, as CSV (RFC 4180)."""
    as_csv = "text/csv" in accept
    batches = _batches(rig, shoot, after, limit or (ALL if as_csv else BATCH), every, camera)
    first = await anext(batches)  # an unknown shoot is refused before an answer has begun
    if camera is not None and not first:
        await _require(rig, shoot, camera)
    if as_csv:
        return StreamingResponse(
            _csv(first, batches),
            media_type="text/csv; charset=utf-8; header=present",
            headers={"Content-Disposition": f"attachment; filename*=utf-8''{quote(shoot)}.csv", "Vary": "Accept"},
        )
    found = first + [frame async for batch in batches for frame in batch]
    return Response(_FRAMES.dump_json(found), headers={"Vary": "Accept"}, media_type="application/json")


async def _batches(
    rig: Rig, shoot: str, after: int, limit: int, every: int, camera: str | None
) -> AsyncIterator[list[Frame]]:
    """Frames in batches, an empty one last; cameras that share a slot stay together."""
    while limit > 0:
        batch = await rig.store.frames(shoot, after, min(limit * every, BATCH), camera)
        if not batch:
            break
        after = batch[-1].seq
        wanted = [frame for frame in batch if frame.seq % every == 0]
        limit -= len(wanted)
        yield wanted
    yield []


async def _require(rig: Rig, shoot: str, camera: str) -> None:
    """Raise NotFound where the shoot has frames, and none of this camera; or where the rig has no such camera."""
    if await rig.store.last_frame(shoot, camera) is not None:
        return
    last = await rig.store.last_frame(shoot)
    known = [each.id for each in rig.cameras()]
    if last is not None or camera not in known:
        remedy = f"Leave camera out for all of them; there are frames of {last.camera}" if last else ""
        remedy = remedy or f"The rig has {', '.join(known) or 'no camera'}"
        raise NotFound("no-such-camera", "the shoot has no frame of this camera", where=camera, remedy=remedy)


async def _csv(first: list[Frame], rest: AsyncIterator[list[Frame]]) -> AsyncIterator[str]:
    yield "".join(csv_lines(first))
    async for batch in rest:
        yield "".join(csv_lines(batch, header=False))


@router.get(
    "/frames/{frame}/preview.jpg",
    response_class=FileResponse,
    responses={200: {"content": {"image/jpeg": {}}}, 304: {"description": "The copy that you have is right"}},
)
async def preview(
    frame: Annotated[int, Path(ge=1, le=2**62, description="the frame's id on this rig")],
    rig: TheRig,
    if_none_match: Annotated[str | None, Header()] = None,
) -> Response:
    """The frame's small picture."""
    path = rig.preview_path(await rig.store.frame(frame))
    try:
        stat = None if path is None else await asyncio.to_thread(path.stat)
    except FileNotFoundError:
        stat = None
    if path is None or stat is None:
        raise NotFound(
            "no-preview",
            "this frame has no small picture on the rig",
            where=f"frame {frame}",
            remedy="One comes with the frame's fetching; frames that are lost or missed have none",
        )
    # A picture never changes, but a rig whose directory was emptied counts its frames from 1 again: hence no-cache.
    headers = {"Cache-Control": "private, no-cache"}
    answer = FileResponse(path, headers=headers, media_type="image/jpeg", stat_result=stat)
    known = [tag.strip().removeprefix("W/") for tag in (if_none_match or "").split(",")]
    return NotModifiedResponse(answer.headers) if answer.headers["etag"] in known else answer
