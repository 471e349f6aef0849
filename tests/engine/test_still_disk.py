"""A disk that stands still: whoever waits for it holds a thread, and nothing of a shoot may wait behind those."""

from __future__ import annotations

import asyncio
import io
import threading
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import httpx
import pytest
from PIL import Image

from api import create_app
from controller.camera.messages import Preview
from controller.decide.plan import plan_from
from controller.engine.metering import Metering
from controller.store import Store
from controller.words.documents import ShootState
from tests.api.conftest import NOWHERE
from tests.store import samples
from tests.support.rigs import Evening, plan


async def test_a_picture_is_metered_while_every_thread_of_the_loop_waits_for_the_disk() -> None:
    still = threading.Event()  # until it is set
    waiting = [asyncio.create_task(asyncio.to_thread(still.wait)) for _ in range(64)]  # more than there are threads
    await asyncio.sleep(0)
    run: Any = SimpleNamespace(camera=SimpleNamespace(opened=None), plan=plan_from(plan()))
    picture = io.BytesIO()
    Image.new("RGB", (160, 120), (90, 90, 90)).save(picture, "JPEG")
    try:
        async with asyncio.timeout(30):
            reading = await Metering(run).take(Preview(1, picture.getvalue()), None)
    finally:
        still.set()  # no loop ends while its threads wait
        await asyncio.gather(*waiting)
    assert 0 < reading.level < 1


async def test_a_small_picture_is_looked_for_beside_the_loop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that is not in the machine's memory is read from the disk: the loop orders releases meanwhile."""
    (tmp_path / "rig").mkdir()
    async with await Store.open(tmp_path / "rig/frames.sqlite3") as store:
        await store.add_shoot(samples.shoot(state=ShootState.DONE))
        await store.add_missed([samples.due(1, state="written", preview=True)])
    looked: list[int] = []
    real = Path.stat

    def stat(path: Path, **more: Any) -> Any:
        if path.name == "000001.jpg":
            looked.append(threading.get_ident())
        return real(path, **more)

    async with Evening().rig(tmp_path, NOWHERE) as rig:
        transport = httpx.ASGITransport(create_app(rig), raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            monkeypatch.setattr(Path, "stat", stat)
            answer = await client.get("/api/v1/frames/1/preview.jpg")
    assert (answer.status_code, answer.json()["code"]) == (404, "no-preview")
    assert looked
    assert threading.get_ident() not in looked
