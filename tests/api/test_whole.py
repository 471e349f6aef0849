"""The API over a whole rig: real HTTP, a real log, libgphoto2 and the simulated camera."""

import asyncio
import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
from PIL import Image

from controller.words.documents import Frame, Now
from tests.api.test_events import Seen, read
from tests.support.rigs import Evening, camera_there, plan
from tests.support.serving import serving


async def test_a_shoot_from_its_start_to_its_log_by_rest_alone(tmp_path: Path) -> None:
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with (
            evening.rig(tmp_path, camera.address) as rig,
            serving(rig) as (url, _),
            httpx.AsyncClient(base_url=f"{url}/api/v1", timeout=60) as client,
        ):
            await camera_there(rig)
            await client.post("/plans", json=plan(interval_s=1.0))
            async with client.stream("GET", "/events") as response:
                stream = read(response)
                started = await client.post("/shoots", json={"plan": "evening"})
                at = f"/shoots/{started.json()['id']}"
                pictured = await frames_with_pictures(stream, 3)
                now = Now.model_validate((await client.get("/now")).json())
                others = [text for text in now.attention if "slot" not in text]  # which a busy machine may miss
                assert others == []
                assert now.shoot is not None
                assert now.shoot.state == "shooting"
                assert now.next_release_in_s is not None
                assert now.next_release_in_s <= 1.0
                assert now.exposure is not None
                assert now.exposure.label == "1/10 s  f/5.6  ISO 400"

                assert (await client.post(f"{at}/hold")).json()["state"] == "held"
                await asyncio.sleep(1)  # what was on its way is in
                held = len(camera.record())
                await asyncio.sleep(1)
                assert len(camera.record()) == held
                await client.post(f"{at}/resume")
                await frames_with_pictures(stream, 2)
                await client.post(f"{at}/pace", json={"to_s": 0.55})
                await until(client, "/now", lambda now: now["interval_s"] == 0.55)
                await client.post(f"{at}/stop")
                await until(client, at, lambda shoot: shoot["state"] == "stopped")

            for frame in pictured:
                picture = await client.get(f"/frames/{frame.id}/preview.jpg")
                assert Image.open(io.BytesIO(picture.content)).format == "JPEG"
            log = (await client.get(f"{at}/frames", headers={"Accept": "text/csv"})).text
            rows = [row for row in csv.DictReader(io.StringIO(log)) if row["state"] != "missed"]
            assert len(rows) == len(camera.record()), "every exposure that the camera made is in the log, and no other"


async def frames_with_pictures(stream: Any, count: int) -> list[Frame]:
    """The next frames of the event stream whose picture is on the rig."""
    found: dict[int, Frame] = {}
    async with asyncio.timeout(90):
        while len(found) < count:
            event: Seen = await anext(stream)
            if event.kind == "frame" and (frame := Frame.model_validate_json(event.data)).preview:
                found[frame.seq] = frame
    return list(found.values())


async def until(client: httpx.AsyncClient, path: str, wanted: Callable[[Any], bool]) -> None:
    async with asyncio.timeout(60):
        while not wanted((await client.get(path)).json()):
            await asyncio.sleep(0.05)
