"""What the phone's first screen shows, once and as it changes."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Header, Query, Request, Response
from fastapi.responses import StreamingResponse

from api.events import EventStream, follow
from api.rig import TheRig
from controller.words.documents import Now

router = APIRouter(tags=["now"])


@router.get("/now", response_model=Now)
async def now(rig: TheRig) -> Response:
    """Everything that the phone's first screen shows, in one answer."""
    document = await rig.now()
    return Response(document.model_dump_json(), headers={"Cache-Control": "no-store"}, media_type="application/json")


@router.get(
    "/events",
    response_class=StreamingResponse,
    responses={200: {"content": {EventStream.media_type: {"schema": {"type": "string"}}}}},
)
async def events(
    rig: TheRig,
    request: Request,
    last_event_id: Annotated[str | None, Header(description="id of the last event received")] = None,
    after: Annotated[
        str | None, Query(max_length=100, description="the same, for a browser that opens the stream anew by itself")
    ] = None,
) -> EventStream:
    """Server-sent events, each a document: `now` (first of all, and as it changes), `frame`, `shoot`, `note`,
    and `heartbeat` every 2 seconds. Ids resume with `Last-Event-ID`, or with `after`."""
    session = request.state.visitor.session
    return EventStream(follow(rig, last_event_id or after), session and session.id)
