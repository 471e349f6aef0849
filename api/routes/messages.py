"""The rig's messages to people: what waits, and a test."""

from __future__ import annotations

from fastapi import APIRouter, Response

from api.rig import TheRig
from controller.words.documents import PostNow
from controller.words.sending import Sending

router = APIRouter(tags=["messages"])


@router.get("/messages", response_model=PostNow | None)
async def messages(rig: TheRig, response: Response) -> PostNow | None:
    """What waits to be sent and what became of the last message; null where nobody is to be told."""
    response.headers["Cache-Control"] = "no-store"
    rig.watching.post.see_addresses()
    return rig.watching.post.now()


@router.post("/messages/test")
async def test_messages(rig: TheRig) -> Sending:
    """Sends a test message to every address now, and tells what came of each; takes up to two minutes."""
    return await rig.watching.post.test()
