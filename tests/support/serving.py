"""The API over real HTTP, and a log with something in it, for tests."""

from __future__ import annotations

import asyncio
import io
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from PIL import Image

from api.server import Server
from controller.daemon import Rig
from controller.store.files import preview_path, write_atomic
from controller.words.documents import Frame, FrameState
from tests.support.rigs import EVENING_UTC, plan

PLAN = plan(interval_s=5.0)


@asynccontextmanager
async def serving(rig: Rig) -> AsyncIterator[tuple[str, Server]]:
    """The rig's API over real HTTP on a free port; its address and its server."""
    server = Server(rig, "127.0.0.1", 0)
    server.bind()
    task = asyncio.create_task(server.serve())
    while not server.started:
        assert not task.done()
        await asyncio.sleep(0.01)
    try:
        yield server.url.rstrip("/"), server
    finally:
        server.should_exit = True
        await task


async def log_frames(rig: Rig, shoot: str, count: int, first: int = 1) -> list[Frame]:
    """Write frames to the log as if they had been shot, with pictures; every seventh slot was missed."""
    frames = []
    for seq in range(first, first + count):
        missed = seq % 7 == 0
        frame = Frame(
            shoot=shoot,
            seq=seq,
            camera="camera-1",
            due_utc=EVENING_UTC + 5.0 * seq,
            interval_s=5.0,
            sun_altitude_deg=-0.01 * seq,
            state=FrameState.MISSED if missed else FrameState.WRITTEN,
            cause="the camera was busy" if missed else None,
            preview=not missed,
        )
        if not missed:
            write_atomic(rig.directory / preview_path(shoot, seq), JPEG)
        frames.append(frame)
    ids = await rig.store.add_missed(frames)
    return [frame.model_copy(update={"id": number}) for frame, number in zip(frames, ids, strict=True)]


def _jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (160, 107), (40, 30, 20)).save(out, "JPEG")
    return out.getvalue()


JPEG = _jpeg()
