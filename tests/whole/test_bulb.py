"""A plan whose exposures are on no dial, from the plan to the body's own record, at sixty times the speed."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.words.documents import FrameState
from controller.words.errors import BadInput
from tests.support.rigs import Evening, camera_there, ended, plan, rows

NIGHT_UTC = 1_792_522_800.0  # 2026-10-20T19:00:00Z
PLAN = plan(
    100.0,
    when={"start": "now", "frames": 4},
    light={"kind": "fixed", "shutter_s": 80.0, "aperture": 4.0, "iso": 100, "bulb": True},
    pace={"kind": "steady", "interval_s": 100.0, "min_gap_s": 10.0},
)


async def test_eighty_seconds_a_frame(tmp_path: Path) -> None:
    evening = Evening(60.0, NIGHT_UTC)
    with evening.camera(tmp_path, maker="nikon") as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            shoot = await ended(rig, await rig.start_shoot(PLAN))
            log = await rows(rig, shoot)
        record = camera.record()
    assert shoot.state == "done"
    assert [frame.state for frame in log] == [FrameState.WRITTEN] * 4
    assert [frame.shutter_s for frame in log] == pytest.approx([80.0] * 4)
    # 50 ms of the wall's clock are 3 s of the scene's
    assert [shot["shutter_s"] for shot in record] == pytest.approx([frame.shutter_s for frame in log], abs=3.0)


async def test_a_body_that_cannot_be_held_open_is_told_before(tmp_path: Path) -> None:
    evening = Evening(60.0, NIGHT_UTC)
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            with pytest.raises(BadInput, match="held open") as refused:
                await rig.start_shoot(PLAN)
    assert refused.value.code == "no-bulb"
