"""The times that a camera process tells, from which a body's own are learned."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from controller.camera.messages import Fetched, Preview, Released, Written
from tests.camera.ear import connected, order
from tests.support.simcam import start_simulated_camera


async def test_they_follow_each_other(tmp_path: Path) -> None:
    """Half a second late from the order on; written no earlier than the camera can write, and fetched after that."""
    with start_simulated_camera(tmp_path, readout=0.1, write=0.3, epoch_utc="2026-10-20T16:20:00Z") as camera:
        async with connected(camera.address) as (link, ear):
            due_mono = time.monotonic() - 0.5
            await link.release(order(1, due_mono, tmp_path / "rig", shutter_s=1 / 64))
            await ear.until(lambda: ear.all(Fetched) and ear.all(Preview))
        (shot,) = camera.record()
    released, written = ear.of(Released)[1], ear.of(Written)[1]
    preview, fetched = ear.of(Preview)[1], ear.of(Fetched)[1]
    assert released.late_s == pytest.approx(released.at_mono - due_mono)
    assert released.late_s >= 0.5
    assert released.at_mono <= shot["released_mono"] <= released.at_mono + released.call_s
    assert written.at_mono >= shot["released_mono"] + 1 / 64 + 0.1 + 0.3
    assert written.at_mono <= preview.at_mono <= time.monotonic()
    assert written.at_mono <= fetched.at_mono <= time.monotonic()
