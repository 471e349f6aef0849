"""A frame log that is damaged is put aside, and made anew from what lies on the rig and on the card; never silently."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from controller.engine.anew import FROM_PICTURE
from controller.engine.only_on_card import FROM_CARD
from controller.words.documents import Frame, FrameState
from tests.bench.rigs import plan
from tests.support.service import Service
from tests.support.simcam import SimulatedCamera, start_simulated_camera
from tests.whole.test_restart import wait_for_frames
from tests.whole.truth import compare

DATABASE = "frames.sqlite3"


def gone(rig: Path) -> None:
    for path in rig.glob(f"{DATABASE}*"):
        path.unlink()


def overwritten(rig: Path) -> None:
    """From the second page on: the head still says that it is a database of ours."""
    fold(rig)
    content = bytearray((rig / DATABASE).read_bytes())
    content[4096:] = b"\xa5" * (len(content) - 4096)
    (rig / DATABASE).write_bytes(content)


def fold(rig: Path) -> None:
    """Put what the write-ahead log holds into the database."""
    with closing(sqlite3.connect(rig / DATABASE)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def log_of(service: Service, shoot: str) -> list[Frame]:
    return [Frame.model_validate(row) for row in service.frames(shoot)]


def notes(rig: Path, kind: str) -> list[str]:
    with closing(sqlite3.connect(rig / DATABASE)) as connection:
        return [row[0] for row in connection.execute("SELECT text FROM notes WHERE kind = ?", (kind,))]


@pytest.mark.parametrize("damage", [gone, overwritten])
def test_a_shoot_goes_on_without_its_log(tmp_path: Path, damage: Callable[[Path], None]):
    rig = tmp_path / "rig"
    with start_simulated_camera(tmp_path) as camera:
        service = Service(rig, camera)
        service.wait_for_camera()
        shoot = service.shoot(plan("night", 0.5, 0.05, 12, files={"fetch": "all"}))
        wait_for_frames(service, shoot, 5)
        before = {frame.seq: frame for frame in log_of(service, shoot) if frame.state == "fetched"}
        service.kill()
        damage(rig)
        service = Service(rig, camera)
        told = [line for line in service.get("/api/v1/now")["attention"] if "made anew" in line]
        wait_for_frames(service, shoot, len(before) + 2)
        service.wait_for_end(shoot)
        log = log_of(service, shoot)
        kept = service.get("/api/v1/plans")
        service.stop()
        by_name(log, notes(rig, "unknown-files"), camera)
    assert len(told) == 1
    assert any("made anew" in line for line in (tmp_path / "serve.log").read_text().splitlines())
    assert notes(rig, "log-made-anew")
    aside = [path for path in rig.glob(f"{DATABASE}.damaged-*") if path.suffix != "-wal"]
    assert bool(aside) == (damage is not gone)
    assert [each["name"] for each in kept] == ["night"]
    again = {frame.seq: frame for frame in log}
    for seq, frame in before.items():
        assert (again[seq].local_file, again[seq].bytes) == (frame.local_file, frame.bytes)
        assert again[seq].cause == FROM_PICTURE
        assert again[seq].camera_file == frame.camera_file
        assert abs(again[seq].due_utc - frame.due_utc) < 30.0
    assert [frame.seq for frame in log] == list(range(1, len(log) + 1))


def by_name(log: list[Frame], told: list[str], camera: SimulatedCamera) -> None:
    """Every file on the card is a row's, once, or is told of."""
    claimed = [frame.camera_file.rpartition("/")[2] for frame in log if frame.camera_file]
    assert len(claimed) == len(set(claimed))
    lacking = {path.name for path in camera.card.rglob("*.JPG")} - set(claimed)
    assert all(any(name in text for text in told) for name in lacking)


@pytest.mark.parametrize("fetch", ["all", "preview", "none"])
def test_a_frame_that_is_only_on_the_card_has_its_slot(tmp_path: Path, fetch: str):
    """Of one in the middle and of the last two the cut has taken the pictures along with the log: the rig did not run
    after that, and still those slots were shot. With small pictures, or none, no copy tells the camera's clock."""
    rig = tmp_path / "rig"
    with start_simulated_camera(tmp_path) as camera:
        service = Service(rig, camera)
        service.wait_for_camera()
        shoot = service.shoot(plan("night", 2.0, 0.1, 14, files={"fetch": fetch}))
        wait_for_frames(service, shoot, 6)
        before = log_of(service, shoot)
        last = before[-1].seq
        service.kill()
        gone(rig)
        for seq in (3, last - 1, last, last + 1):
            for path in rig.rglob(f"{seq:06d}.*"):
                path.unlink()
        service = Service(rig, camera)
        service.wait_for_end(shoot)
        log = log_of(service, shoot)
        service.stop()
        compare(log, camera)
    assert notes(rig, "unknown-files") == []
    made = {frame.seq for frame in log if frame.cause == FROM_CARD}
    shot = {frame.seq for frame in before if frame.state is not FrameState.MISSED}
    assert {3, last - 1, last} & shot <= made
