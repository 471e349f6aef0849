"""Exposures that are on no dial, held open by the camera process through libgphoto2's own bulb of a maker's dialect."""

from __future__ import annotations

import asyncio
import signal
import time
from pathlib import Path

import pytest

from controller.camera.messages import Gone, Missed, Opened, Released, Settled, Written
from controller.words.stops import true_iso
from tests.camera.ear import connected, order, shoot
from tests.support.simcam import start_simulated_camera

RATE = 40.0  # a minute of the scene's takes a second and a half


@pytest.mark.parametrize("maker", ["nikon", "canon"])
async def test_a_minute_between_frames_of_the_dial(tmp_path: Path, maker: str) -> None:
    """1 s, 64 s, 101.6 s by hand, 1 s: the body's own record of how long its shutter was open."""
    times = [1.0, 64.0, 101.6, 1.0]
    with start_simulated_camera(tmp_path, maker=maker, rate=RATE, epoch_utc="2026-10-20T18:00:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            assert ear.all(Opened)[0].bulb
            due, orders = time.monotonic() + 0.5, []
            for seq, shutter_s in enumerate(times, 1):
                each = order(seq, due, tmp_path / "rig", shutter_s=shutter_s, exposure_s=shutter_s / RATE)
                orders.append(each)
                due += shutter_s / RATE + 1.0
            await shoot(link, orders)
            await ear.count(Written, 4)
        record = camera.record()
    assert not ear.all(Missed)
    assert [settled.shutter_s for settled in ear.of(Settled).values()] == pytest.approx(times, rel=0.01)
    # by the scene's clock, so that ten milliseconds of the wall's are 0.4 s
    assert [shot["shutter_s"] for shot in record] == pytest.approx(times, abs=0.05 * RATE)
    late = [told.at_mono - orders[told.seq - 1].due_mono for told in ear.all(Released)]
    assert max(late) < 0.25


async def test_a_body_without_bulb_takes_its_longest_time(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, rate=RATE, epoch_utc="2026-10-20T18:00:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            assert not ear.all(Opened)[0].bulb
            due = time.monotonic() + 0.5
            await shoot(link, [order(1, due, tmp_path / "rig", shutter_s=64.0, exposure_s=64 / RATE)])
            await ear.count(Written, 1)
    assert ear.of(Settled)[1].shutter_s == pytest.approx(32)


@pytest.mark.parametrize("maker", ["nikon", "canon"])
async def test_a_shutter_that_was_left_open_is_closed(tmp_path: Path, maker: str) -> None:
    """The camera process is killed in mid exposure; the next one closes the shutter, and goes on with the dial."""
    with start_simulated_camera(tmp_path, maker=maker, epoch_utc="2026-10-20T18:00:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            due = time.monotonic() + 0.5
            await link.release(order(1, due, tmp_path / "rig", shutter_s=60.0, exposure_s=60.0))
            await ear.count(Released, 1)
            assert link._process is not None
            link._process._process.send_signal(signal.SIGKILL)
            await ear.count(Gone, 1)
            await ear.count(Opened, 2)
            await asyncio.sleep(0.2)
            due = time.monotonic() + 0.5
            await link.release(order(2, due, tmp_path / "rig", iso=true_iso(200)))
            await ear.until(lambda: 2 in ear.of(Written))
        opened, dial = camera.record()
    assert opened["written"]
    assert 0 < opened["shutter_s"] < 20
    assert dial["iso"] == 200


async def test_the_end_of_the_session_closes_the_shutter_at_its_moment(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, maker="nikon", epoch_utc="2026-10-20T18:00:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            due = time.monotonic() + 0.5
            await link.release(order(1, due, tmp_path / "rig", shutter_s=36.0, exposure_s=1.5))
            await ear.count(Released, 1)
        await asyncio.sleep(0.5)
        (shot,) = camera.record()
    assert shot["shutter_s"] == pytest.approx(1.5, abs=0.1)
