"""A bracketed shoot on real parts, and a plan that wants what no camera here can do."""

from pathlib import Path

import pytest

from controller.words.documents import FrameState, ShootState
from controller.words.errors import BadInput
from tests.support.rigs import Evening, camera_there, ended, plan, rows
from tests.whole.truth import compare


async def test_every_release_of_a_bracket_has_its_row_and_the_exposure_that_it_says(tmp_path: Path):
    light = {"kind": "fixed", "shutter_s": 0.25, "aperture": 5.6, "iso": 400, "bracket_ev": [0, -2, 1]}
    evening = Evening(rate=2)
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            pace = {"kind": "steady", "interval_s": 12.0, "min_gap_s": 3.0}
            shoot = await rig.start_shoot(plan(light=light, pace=pace, when={"start": "now", "frames": 9}))
            shoot = await ended(rig, shoot)
            log = await rows(rig, shoot)
        compare(log, camera)
        record = camera.record()
    assert (shoot.state, shoot.cause) == (ShootState.DONE, "the plan's 9 frames are done")
    assert [frame.seq for frame in log] == list(range(1, 10))
    assert all(frame.state is not FrameState.MISSED for frame in log)
    assert [shot["shutter_s"] for shot in record] == pytest.approx([0.25, 0.0625, 0.5] * 3, rel=1e-6)
    dues = [frame.due_utc - log[0].due_utc for frame in log]
    assert dues == pytest.approx([12 * k + s for k in range(3) for s in (0, 3.25, 6.3125)], abs=1e-3)


async def test_bulb_is_refused_of_a_camera_that_offers_none(tmp_path: Path):
    evening = Evening()
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            await camera_there(rig)
            light = {"kind": "follow", "shutter_s": [0.001, 120], "aperture": 5.6, "bulb": True}
            with pytest.raises(BadInput) as refused:
                await rig.start_shoot(plan(light=light))
            assert await rig.store.shoots() == []
    assert refused.value.code == "no-bulb"
