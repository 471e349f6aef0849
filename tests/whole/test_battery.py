"""Hours left in the battery, by the fall that the rig sees in a shoot, against the simulated camera's own."""

from __future__ import annotations

import asyncio
from pathlib import Path

from tests.support.rigs import Evening, camera_there, ended, plan

FALL_PER_H = 3.0  # percent of the simulated battery in an hour of the scene, and 0.01 a frame


async def test_hours_are_told_in_a_shoot_once_the_fall_is_known(tmp_path: Path) -> None:
    """A percent each 20 minutes, four seconds at this rate: around 97/3 = 32 hours. Sums by hand: tests/decide."""
    evening = Evening(rate=300.0)
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(plan(600.0))
            told: list[tuple[int | None, float | None]] = []
            async with asyncio.timeout(120.0):
                while not told or told[-1][1] is None:
                    await asyncio.sleep(0.1)
                    await rig._look_at_cameras()
                    now = await rig.now()
                    assert now.camera is not None
                    told.append((now.camera.battery_percent, now.camera.battery_hours_left))
            percent, hours = told[-1]
            assert percent is not None
            assert hours is not None
            assert len({each for each, _ in told}) >= 3
            assert 0.5 < hours / (percent / FALL_PER_H) < 2
            assert rig.cameras()[0].battery_hours_left is not None
            await rig.shoots.stop(shoot.id)
            await ended(rig, shoot)
            assert rig.cameras()[0].battery_hours_left is None
