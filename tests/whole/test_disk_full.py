"""The rig's disk is full: fetching stops, releases do not, and what was missed is caught up with."""

import contextlib
import os
import time
from collections.abc import Callable
from pathlib import Path

from controller.words.documents import Frame
from tests.bench.rigs import plan
from tests.support.service import Service
from tests.support.simcam import start_simulated_camera
from tests.whole.truth import compare, taken


def small_disk(directory: Path, megabytes: int) -> list[str]:
    """A command's beginning that gives it a small file system of its own at `directory`; root or not."""
    become_root = [] if os.geteuid() == 0 else ["--map-root-user"]
    mount = f'mount -t tmpfs -o size={megabytes}m none {directory} && exec "$@"'
    return ["unshare", "--mount", *become_root, "sh", "-c", mount, "sh"]


def fill(directory: Path) -> Path:
    """A file that takes all the room there is."""
    filler = directory / "filler"
    with contextlib.suppress(OSError), filler.open("wb", buffering=0) as file:
        while True:
            file.write(bytes(1 << 16))
    return filler


def wait(service: Service, what: str, condition: Callable[[], bool], seconds: float = 40.0) -> None:
    until = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < until, what
        time.sleep(0.2)


def test_fetching_stops_releases_go_on_and_what_was_left_is_fetched_later(tmp_path: Path):
    directory = tmp_path / "rig"
    directory.mkdir()
    under = small_disk(directory, 140)
    with start_simulated_camera(tmp_path) as camera, Service(directory, camera, under=under) as service:
        service.wait_for_camera()
        shoot = service.shoot(plan("night", 1.0, 0.05, 40, files={"fetch": "all"}))

        def counts() -> dict[str, int]:
            return dict(service.get(f"/api/v1/shoots/{shoot}")["counts"])

        wait(service, "nothing is fetched", lambda: counts()["fetched"] >= 3)
        filler = fill(Path(f"/proc/{service.process.pid}/root{directory}"))
        wait(
            service,
            "nobody says that the disk is full",
            lambda: any("disk is full" in line for line in service.get("/api/v1/now")["attention"]),
        )
        before = len(camera.record())
        wait(service, "the camera is not released", lambda: len(camera.record()) >= before + 8)
        filler.unlink()
        end = service.wait_for_end(shoot)
        log = [Frame.model_validate(row) for row in service.frames(shoot)]
        compare(log, camera)
    assert end["state"] == "done"
    assert {frame.state for frame in taken(log)} == {"fetched"}
    assert end["counts"]["fetched"] == 40
