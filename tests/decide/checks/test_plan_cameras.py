"""The cameras that a plan names, against those of the rig. Our own rule: no source."""

from __future__ import annotations

from controller.decide.checks.plan_cameras import plan_cameras
from controller.words.settings import Level
from tests.decide.checks import camera, plan, rig


def test_every_one_is_there():
    found = plan_cameras(rig(cameras=(camera(), camera(id="camera-2"))), plan(cameras=("camera-1", "camera-2")))
    assert found is not None
    assert found.level is Level.PASS


def test_one_is_missing():
    found = plan_cameras(rig(cameras=(camera(),)), plan(cameras=("camera-1", "camera-3")))
    assert found is not None
    assert (found.level, "camera-3" in found.what, bool(found.remedy)) == (Level.FAIL, True, True)


def test_nothing_is_said_where_none_is_named_or_there():
    assert plan_cameras(rig(cameras=(camera(),)), plan()) is None
    assert plan_cameras(rig(cameras=(camera(),)), None) is None
    assert plan_cameras(rig(cameras=()), plan(cameras=("camera-1",))) is None
