"""The frame log, and the frames' small pictures."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from dataclasses import replace
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Header, Path, Query, Response
from fastapi.responses import FileResponse, StreamingResponse
from pydantic import TypeAdapter

from api.rig import Rig, TheRig
from api.unchanged import unless_known
from controller.store.export import csv_lines
from controller.store.frame_pages import Page
from controller.words.documents import Frame, FrameTrouble, TroubleCounts
from controller.words.errors import NotFound

router = APIRouter(tags=["frames"])

BATCH = 500
"""Frames read from the log at once, and answered where a caller of JSON names no limit."""

ALL = 2**62

OfCamera = Annotated[str | None, Query(description="only frames of this camera")]

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
    before: Annotated[
        int | None, Query(ge=1, le=2**62, description="only slots numbered below this, newest first")
    ] = None,
    newest: Annotated[bool, Query(description="newest first; so it is with `before` anyway")] = False,
    every: Annotated[int, Query(ge=1, le=100_000, description="only slots whose number this divides")] = 1,
    camera: OfCamera = None,
    only: Annotated[FrameTrouble | None, Query(description="only slots in this trouble")] = None,
    previews: Annotated[bool, Query(description="only frames whose small picture is on the rig")] = False,
    accept: Annotated[str, Header()] = "application/json",
) -> Response:
    """The frame log by slot number, as JSON or, with `Accept: text/csv`, as CSV (RFC 4180).

    Oldest first, and newest first with `before` or `newest`; the next page begins where the last one ended, `after` or
    `before` its last number.
    """
    as_csv = "text/csv" in accept
    page = Page(
        after=after,
        before=ALL if before is None else before,
        newest=newest or before is not None,
        every=every,
        camera=camera,
        trouble=only,
        previews=previews,
    )
    limit = limit or (ALL if as_csv else BATCH)
    batches = _batches(rig, shoot, page, limit)
    first = await anext(batches)  # an unknown shoot is refused before an answer has begun
    if camera is not None and not first:
        await _require(rig, shoot, camera)
    if as_csv:
        return StreamingResponse(
            _csv(first, batches),
            media_type="text/csv; charset=utf-8; header=present",
            headers={"Content-Disposition": f"attachment; filename*=utf-8''{quote(shoot)}.csv", "Vary": "Accept"},
        )
    if limit > BATCH:
        return StreamingResponse(_json(first, batches), headers={"Vary": "Accept"}, media_type="application/json")
    found = first + [frame async for batch in batches for frame in batch]
    return Response(_FRAMES.dump_json(found), headers={"Vary": "Accept"}, media_type="application/json")


async def _batches(rig: Rig, shoot: str, page: Page, limit: int) -> AsyncIterator[list[Frame]]:
    """Frames in batches, an empty one last; cameras that share a slot stay together."""
    while limit > 0:
        batch = await rig.store.page(shoot, replace(page, limit=min(limit, BATCH)))
        if not batch:
            break
        last = batch[-1].seq
        page = replace(page, before=last) if page.newest else replace(page, after=last)
        limit -= len(batch)
        yield batch
    yield []


@router.get("/shoots/{shoot}/frames/troubles")
async def troubles(shoot: str, rig: TheRig, camera: OfCamera = None) -> TroubleCounts:
    """How many slots were missed or lost, and how many frames are doubtful: what `only` gives."""
    return await rig.store.troubles(shoot, camera)


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


async def _json(first: list[Frame], rest: AsyncIterator[list[Frame]]) -> AsyncIterator[bytes]:
    """One list, a batch at a time: a hundred thousand frames at once would fill the memory of a small machine."""
    yield b"[" + _FRAMES.dump_json(first)[1:-1]
    async for batch in rest:
        if batch:
            yield b"," + _FRAMES.dump_json(batch)[1:-1]
    yield b"]"


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
    return unless_known(if_none_match, answer)
