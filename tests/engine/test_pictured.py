"""The picture of a shoot that is shown or sent, where several cameras have shot it and are counted together."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

from controller.engine.daily import Daily
from controller.store import Store
from controller.store.files import preview_path, write_atomic
from controller.words.documents import Frame, FrameState, Shoot, ShootState
from tests.api.conftest import NOWHERE
from tests.store import samples
from tests.support.rigs import Evening

CAMERAS = ("camera-1", "camera-2", "camera-3")
SLOTS = 300


def rows(dark_from: int) -> list[Frame]:
    fields: dict[str, Any] = {"state": FrameState.WRITTEN, "preview": True}
    return [
        samples.due(seq).but({**fields, "camera": camera, "black": 1.0 if seq >= dark_from else 0.0})
        for seq in range(1, SLOTS + 1)
        for camera in CAMERAS
    ]


async def shot(directory: Path, dark_from: int) -> Shoot:
    async with await Store.open(directory / "frames.sqlite3") as store:
        await store.add_shoot(samples.shoot(state=ShootState.DONE))
        await store.add_missed(rows(dark_from))
        return await store.shoot(samples.SHOOT)


async def test_the_digest_has_the_newest_picture_that_shows_something(tmp_path: Path) -> None:
    shoot = await shot(tmp_path, SLOTS - 50)
    for camera in CAMERAS:
        write_atomic(tmp_path / preview_path(shoot.id, SLOTS - 51, camera), b"picture")
    async with await Store.open(tmp_path / "frames.sqlite3") as store:
        rig: Any = SimpleNamespace(
            directory=tmp_path,
            store=store,
            preview_path=lambda frame: tmp_path / preview_path(frame.shoot, frame.seq, frame.camera),
        )
        now: Any = SimpleNamespace(shoot=shoot)
        assert await Daily(rig, SimpleNamespace())._picture(now) == str(preview_path(shoot.id, SLOTS - 51))  # type: ignore[arg-type]


async def test_after_a_start_the_page_shows_the_last_picture_of_the_first_camera(tmp_path: Path) -> None:
    await shot(tmp_path / "rig", SLOTS + 1)
    async with Evening().rig(tmp_path, NOWHERE) as rig:
        pictured = (await rig.now()).last_frame
    assert pictured is not None
    assert (pictured.seq, pictured.camera) == (SLOTS, "camera-1")
