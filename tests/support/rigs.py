"""A rig over a simulated camera: in this process on a clock that may run faster, or as the real service."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from controller.daemon import Rig
from controller.words.clock import ScaledClock
from controller.words.documents import Frame, Shoot
from controller.words.times import iso
from tests.support.simcam import SimulatedCamera, start_simulated_camera

EVENING_UTC = 1_792_511_760.0  # 2026-10-20T15:56:00Z: the sun sets at the plan's place
LATITUDE, LONGITUDE = 57.66, 11.72


def plan(interval_s: float = 1.0, shutter_s: float = 0.1, **tables: Any) -> dict[str, Any]:
    """A steady plan with a fixed exposure from now on; `tables` replace whole tables or the name."""
    return {
        "name": "evening",
        "site": {"latitude": LATITUDE, "longitude": LONGITUDE},
        "when": {"start": "now"},
        "pace": {"kind": "steady", "interval_s": interval_s, "min_gap_s": 0.1},
        "light": {"kind": "fixed", "shutter_s": shutter_s, "aperture": 5.6, "iso": 400},
        "files": {"fetch": "preview"},
        **tables,
    }


class Evening:
    """One evening that runs `rate` times faster than the wall's, from EVENING_UTC at its making."""

    def __init__(self, rate: float = 1.0, utc: float = EVENING_UTC) -> None:
        self.clock = ScaledClock(utc, time.monotonic(), rate)

    def camera(self, tmp_path: Path, **options: Any) -> SimulatedCamera:
        """A simulated camera that lives in this evening."""
        clock = self.clock
        epoch = {"rate": clock.rate, "epoch_mono": clock.epoch_mono, "epoch_utc": iso(clock.epoch_utc)}
        return start_simulated_camera(tmp_path, latitude=LATITUDE, longitude=LONGITUDE, **epoch, **options)

    @asynccontextmanager
    async def rig(self, tmp_path: Path, *addresses: str) -> AsyncIterator[Rig]:
        """The rig on this evening's clock."""
        rig = Rig(tmp_path / "rig", self.clock, list(addresses))
        await rig.open()
        try:
            yield rig
        finally:
            await rig.close()


async def until(condition: Callable[[], Any], seconds: float = 60.0, what: str = "") -> None:
    """Wait for `condition`, looking often; TimeoutError after `seconds` of the wall's clock."""
    async with asyncio.timeout(seconds):
        while not condition():
            await asyncio.sleep(0.02)


async def camera_there(rig: Rig, seconds: float = 60.0) -> None:
    await until(lambda: rig.cameras()[0].connected, seconds)


async def ended(rig: Rig, shoot: Shoot, seconds: float = 120.0) -> Shoot:
    """The shoot once it has ended."""
    async with asyncio.timeout(seconds):
        while (now := await rig.store.shoot(shoot.id)).state not in ("done", "stopped", "failed"):
            await asyncio.sleep(0.05)
    return now


async def rows(rig: Rig, shoot: Shoot) -> list[Frame]:
    """The whole log of a shoot."""
    return await rig.store.frames(shoot.id, limit=100_000)
