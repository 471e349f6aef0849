"""The daemon is killed and started again: the shoot goes on, and no frame on the card is unknown."""

import itertools
import time
from pathlib import Path

import pytest

from controller.words.documents import Frame
from tests.bench.rigs import plan
from tests.support.service import Service
from tests.support.simcam import start_simulated_camera
from tests.whole.truth import LATE, compare


def wait_for_frames(service: Service, shoot: str, count: int, seconds: float = 60.0) -> None:
    until = time.monotonic() + seconds
    while sum(service.get(f"/api/v1/shoots/{shoot}")["counts"][state] for state in ("written", "fetched")) < count:
        assert time.monotonic() < until, "no further frames"
        time.sleep(0.05)


@pytest.mark.parametrize(("interval_s", "shutter_s"), [(1.0, 0.1), (4.0, 2.5)])
def test_killed_and_started_again(tmp_path: Path, interval_s: float, shutter_s: float):
    with start_simulated_camera(tmp_path) as camera:
        service = Service(tmp_path / "rig", camera)
        service.wait_for_camera()
        shoot = service.shoot(plan("night", interval_s, shutter_s, 9, files={"fetch": "all"}))
        wait_for_frames(service, shoot, 3)
        time.sleep(interval_s * 0.8)  # into the next exposure, where that is long
        service.kill()
        time.sleep(interval_s * 2)
        service = Service(tmp_path / "rig", camera)
        before = service.get(f"/api/v1/shoots/{shoot}")["counts"]
        wait_for_frames(service, shoot, before["written"] + before["fetched"] + 1)
        end = service.wait_for_end(shoot)
        log = [Frame.model_validate(row) for row in service.frames(shoot)]
        assert service.stop() == 0
        compare(log, camera)
    assert end["state"] == "done"
    assert end["counts"]["lost"] == 0
    assert sum(frame.local_file is not None for frame in log) >= 9
    assert any(frame.cause == "the rig was not running" for frame in log)
    taken = [frame.state not in ("missed", "lost") for frame in log if frame.cause not in LATE]
    assert [on for on, _ in itertools.groupby(taken)] == [True, False, True]  # once it shoots again it goes on shooting
    intervals = {round(b.due_utc - a.due_utc, 2) for a, b in itertools.pairwise(log)}
    assert intervals == {interval_s}  # the grid of deadlines is kept over the restart
    assert len({frame.shutter_s for frame in log}) == 1  # and so is the exposure in force


def test_stopped_in_good_order_and_started_again_goes_on_too(tmp_path: Path):
    with start_simulated_camera(tmp_path) as camera:
        service = Service(tmp_path / "rig", camera)
        service.wait_for_camera()
        shoot = service.shoot(plan("night", 1.0, 0.1, 6))
        wait_for_frames(service, shoot, 2)
        assert service.stop() == 0
        service = Service(tmp_path / "rig", camera)
        assert service.wait_for_end(shoot)["state"] == "done"
        log = [Frame.model_validate(row) for row in service.frames(shoot)]
        assert service.stop() == 0
        compare(log, camera)


def test_a_held_shoot_stays_held_over_a_restart(tmp_path: Path):
    with start_simulated_camera(tmp_path) as camera:
        service = Service(tmp_path / "rig", camera)
        service.wait_for_camera()
        shoot = service.shoot(plan("night", 1.0, 0.1, 6))
        wait_for_frames(service, shoot, 2)
        assert service.post(f"/api/v1/shoots/{shoot}/hold", {})["state"] == "held"
        service.kill()
        service = Service(tmp_path / "rig", camera)
        service.wait_for_camera()
        taken = len(camera.record())
        time.sleep(2.5)
        assert service.get(f"/api/v1/shoots/{shoot}")["state"] == "held"
        assert len(camera.record()) == taken
        service.post(f"/api/v1/shoots/{shoot}/resume", {})
        assert service.wait_for_end(shoot)["state"] == "done"
        log = [Frame.model_validate(row) for row in service.frames(shoot)]
        service.stop()
        compare(log, camera)
