"""Live view by the real libgphoto2, for the standard's stream and for a maker's own; never beside a release."""

from __future__ import annotations

import asyncio
import contextlib
import io
import time
from contextlib import aclosing
from pathlib import Path

import pytest
from PIL import Image

from controller.camera.messages import Missed, Opened, Written
from controller.words.errors import CameraError
from tests.camera.ear import connected, order
from tests.support.simcam import start_simulated_camera


@pytest.mark.parametrize("maker", ["generic", "nikon", "canon"])
async def test_pictures_come_no_faster_than_asked(tmp_path: Path, maker: str) -> None:
    with start_simulated_camera(tmp_path, maker=maker, epoch_utc="2026-10-20T15:30:00Z") as camera:
        async with connected(camera.address) as (link, _):
            begun, pictures = time.monotonic(), []
            async with aclosing(link.live(5.0)) as live:
                async for jpeg in live:
                    pictures.append(jpeg)
                    if len(pictures) == 6:
                        break
            assert time.monotonic() - begun >= 5 / 5.0
            for jpeg in pictures:
                with Image.open(io.BytesIO(jpeg)) as small:
                    assert small.format == "JPEG"
            if maker != "generic":
                for _ in range(50):
                    if not camera.control("settings")["live_view"]:
                        break
                    await asyncio.sleep(0.1)
                assert not camera.control("settings")["live_view"]  # off on the body when nobody looks any more


@pytest.mark.parametrize("maker", ["nikon", "canon"])
async def test_a_release_ends_it_and_loses_nothing(tmp_path: Path, maker: str) -> None:
    with start_simulated_camera(tmp_path, maker=maker, epoch_utc="2026-10-20T15:30:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            seen = 0
            due = 0.0
            async with aclosing(link.live(10.0)) as live:
                async for _ in live:
                    seen += 1
                    if seen == 3:
                        due = time.monotonic() + 0.6
                        await link.release(order(1, due, tmp_path / "rig"))
            await ear.count(Written, 1)
            assert not camera.control("settings")["live_view"]
            assert seen <= 5  # those that were on their way
        (shot,) = camera.record()
    assert not ear.all(Missed)
    assert shot["released_mono"] - due < 0.25


async def test_a_body_that_gives_none_says_so(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, epoch_utc="2026-10-20T15:30:00Z") as camera:
        async with connected(camera.address) as (link, _):
            camera.control("refuse", operation="get_stream", code="operation_not_supported", times=50)
            async with aclosing(link.live(5.0)) as live:
                with pytest.raises(CameraError, match="See that the lens cap is off") as refused:
                    await anext(live)
    assert refused.value.code == "no-live-view"


async def test_two_look_at_once_and_one_goes_on(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, epoch_utc="2026-10-20T15:30:00Z") as camera:
        async with connected(camera.address) as (link, _), aclosing(link.live(5.0)) as first:
            await anext(first)
            async with aclosing(link.live(10.0)) as second:
                await anext(second)
            for _ in range(3):
                assert await anext(first)


@pytest.mark.parametrize("maker", ["nikon", "canon"])
async def test_the_session_after_a_lost_one_switches_it_off(tmp_path: Path, maker: str) -> None:
    with start_simulated_camera(tmp_path, maker=maker, epoch_utc="2026-10-20T15:30:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            async with aclosing(link.live(10.0)) as live:
                await anext(live)
                assert camera.control("settings")["live_view"]
                assert link._process is not None
                link._process.kill()
                with contextlib.suppress(CameraError):
                    async for _ in live:
                        pass
            await ear.count(Opened, 2)
            assert not camera.control("settings")["live_view"]


@pytest.mark.parametrize("maker", ["generic", "nikon", "canon"])
async def test_one_looks_again(tmp_path: Path, maker: str) -> None:
    """Three times, in one session: it was switched off in between."""
    with start_simulated_camera(tmp_path, maker=maker, epoch_utc="2026-10-20T15:30:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            for _ in range(3):
                async with aclosing(link.live(10.0)) as live:
                    assert await anext(live)
        assert len(ear.all(Opened)) == 1
