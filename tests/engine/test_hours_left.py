"""For how many hours a card and the rig's disk last, before a real card: steady, and true."""

from __future__ import annotations

import asyncio
from pathlib import Path
from statistics import fmean
from types import SimpleNamespace
from typing import Any

import pytest

from controller.decide.plan import Files
from controller.engine.now import storage
from controller.words.documents import CameraNow
from tests.support.rigs import Evening, camera_there, plan

FOLLOW = {"kind": "follow", "shutter_s": [0.0005, 4.0], "iso": [100, 3200], "aperture": [2.8, 2.8], "test_frame": False}


@pytest.mark.parametrize("fetch", ["all", "preview"])
async def test_the_figure_is_that_of_the_files_from_its_first_to_its_last(tmp_path: Path, fetch: str) -> None:
    """The body's own count goes by what it expects of a frame, which is seven times too much at first."""
    evening = Evening(20.0)
    with evening.camera(tmp_path, size="1200x800", capacity=8e9) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            await rig.start_shoot(plan(interval_s=10.0, light=FOLLOW, files={"fetch": fetch}))
            shown: list[float] = []
            async with asyncio.timeout(120):
                while len(set(shown)) < 3 or (await rig.now()).frames_done < 30:
                    now = await rig.now()
                    if now.storage is not None and now.storage.card_hours_left is not None:
                        shown.append(now.storage.card_hours_left)
                    await asyncio.sleep(0.1)
                    await rig._look_at_cameras()
    size = fmean(path.stat().st_size for path in camera.card.rglob("*.JPG"))
    true_h = 8e9 / size * 10.0 / 3600
    assert all(0.75 < hours / true_h < 1.25 for hours in shown), (true_h, min(shown), max(shown))


async def test_a_bracket_s_frames_count_as_often_as_they_come(tmp_path: Path) -> None:
    """Three every 10 s, 0.15 s, 0.2 s and 9.65 s apart: whichever is in hand, the card lasts as long."""
    evening, offsets = Evening(20.0), {"bracket_ev": [-1.0, 0.0, 1.0]}
    with evening.camera(tmp_path, size="300x200", capacity=8e9) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            still = {"kind": "fixed", "shutter_s": 0.1, "aperture": 5.6, "iso": 400} | offsets
            await rig.start_shoot(plan(interval_s=10.0, light=still, files={"fetch": "none"}))
            shown, apart = list[float](), set[float]()
            async with asyncio.timeout(120):
                while len(apart) < 3 or (await rig.now()).frames_done < 12:
                    now = await rig.now()
                    if now.storage is not None and now.storage.card_hours_left is not None and now.interval_s:
                        shown.append(now.storage.card_hours_left)
                        apart.add(round(now.interval_s, 1))
                    await asyncio.sleep(0.02)
                    await rig._look_at_cameras()
    assert max(apart) > 5 * min(apart)
    assert shown
    assert max(shown) < 1.25 * min(shown)
    size = fmean(path.stat().st_size for path in camera.card.rglob("*.JPG"))
    assert fmean(shown) == pytest.approx(8e9 / size * 10.0 / 3 / 3600, rel=0.3)


def facts(free_bytes: int | None, frames: int | None, each: int | None) -> Any:
    camera = CameraNow(
        id="camera-1", model="x", address="usb:", connected=True, card_free_bytes=free_bytes, card_free_frames=frames
    )
    return SimpleNamespace(camera=camera, free_bytes=36_000, bytes_per_frame=each, fetching_paused=False)


@pytest.mark.parametrize(
    ("free_bytes", "frames", "each", "hours"),
    [
        (72_000, 9, 10, 20.0),  # 7,200 frames of 10 bytes at 10 s
        (72_000, 9, None, None),  # nothing is known yet
        (None, 360, None, 1.0),  # a body that counts frames alone
        (None, 9999, None, None),  # and its count ends there
        (0, None, 10, 0.0),
    ],
)
def test_what_the_card_lasts(free_bytes: int | None, frames: int | None, each: int | None, hours: float | None) -> None:
    assert storage(facts(free_bytes, frames, each), 10.0, Files()).card_hours_left == hours


@pytest.mark.parametrize(("fetch", "hours"), [("all", 10.0), ("every 10", 100.0), ("preview", 0.01), ("none", None)])
def test_what_the_rig_s_disk_lasts(fetch: str, hours: float | None) -> None:
    """36,000 bytes: 3,600 frames of 10 bytes at 10 s, or less than one small picture of 50 kB at 45 s."""
    interval_s = 45.0 if fetch == "preview" else 10.0
    assert storage(facts(None, None, 10), interval_s, Files(fetch=fetch)).rig_hours_left == hours
