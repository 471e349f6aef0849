"""The rig's disk refuses: do releases go on, is anything torn, and does everything come right afterwards?

`python -m tests.bench.disk_errors [SECONDS] [KIND …]`, as root: 1 s interval, every frame fetched, the rig's directory
on an ext4 file system of its own (`tests/support/loop_disk.py`). Each fault stays for SECONDS (20):

- errors: the daemon's and the camera process's writes and syncs fail with EIO, by strace; nothing is started again;
- read-only: ext4 meets an error and takes no more writes; then the service ends, the file system is checked and
  mounted, and the service is started again, as after somebody has switched the rig off and on;
- dead: the same with a disk that answers every call with EIO.

Exit status 1 where something was not well, 2 where there are no such disks, or no strace.
"""

from __future__ import annotations

import asyncio
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from controller.store import Store
from controller.store.files import database_path
from tests.bench.rigs import machine, plan
from tests.support.endings import files_as_logged
from tests.support.fault_schedule import Outcome, Schedule, compare
from tests.support.io_errors import failing
from tests.support.loop_disk import LoopDisk, alone, why_not
from tests.support.service import Service
from tests.support.simcam import SimulatedCamera, start_simulated_camera

KINDS = ("errors", "read-only", "dead")


def go_through(kind: str, seconds: float, directory: Path) -> tuple[Outcome, dict[str, Any]]:
    outcome, told = Outcome(0), {}
    disk = LoopDisk(directory / "rig", 400)
    try:
        with start_simulated_camera(directory) as camera:
            told = _shoot(kind, seconds, disk, camera, outcome)
    finally:
        disk.unmount()
    return outcome, told


def _shoot(kind: str, seconds: float, disk: LoopDisk, camera: SimulatedCamera, outcome: Outcome) -> dict[str, Any]:
    service = Service(disk.directory, camera)
    service.wait_for_camera()
    document = plan("night", 1.0, 0.05, round(2 * seconds + 15), files={"fetch": "all"})
    shoot = service.shoot(document)
    while service.get(f"/api/v1/shoots/{shoot}")["counts"]["fetched"] < 5:
        time.sleep(0.2)
    before, begun = len(camera.record()), time.monotonic()
    if kind == "errors":
        with failing(*service.pids()):
            time.sleep(seconds)
            said = service.get("/api/v1/now")["attention"]
    else:
        disk.read_only() if kind == "read-only" else disk.cut()
        time.sleep(seconds)
        said = service.get("/api/v1/now")["attention"]
    released, lasted_s = len(camera.record()) - before, time.monotonic() - begun
    if kind != "errors":
        service.kill()
        disk.power_again()
        service = Service(disk.directory, camera)
    end = service.wait_for_end(shoot)
    time.sleep(2.0)
    service.stop()
    with closing(sqlite3.connect(database_path(disk.directory))) as connection:
        integrity = connection.execute("PRAGMA integrity_check").fetchone()[0]
    log, notes = asyncio.run(_log(disk.directory, shoot))
    compare(Schedule(0, 0, 1.0, 1.0, {}, "all", ()), outcome, log, camera.record(), notes, camera)
    outcome.trouble += files_as_logged(disk.directory, log)
    counts = end["counts"]
    return {
        "kind": kind, "lasted_s": round(lasted_s, 1), "released": released, "integrity": integrity, "said": said,
        "state": end["state"], "fetched": counts["fetched"], "written": counts["written"], "missed": counts["missed"],
    }  # fmt: skip


async def _log(rig: Path, shoot: str) -> tuple[list[Any], list[Any]]:
    async with await Store.open(database_path(rig), read_only=True) as store:
        return await store.frames(shoot, limit=1_000_000), await store.notes(shoot, limit=1_000_000)


def main(seconds: float, kinds: Sequence[str] = KINDS) -> int:
    well = True
    print(machine())
    for kind in kinds:
        with tempfile.TemporaryDirectory(prefix="errors-") as name:
            outcome, told = go_through(kind, seconds, Path(name))
        well = well and outcome.well and told["integrity"] == "ok"
        print(f"{kind}: {told['lasted_s']:.0f} s, {told['released']} frames released meanwhile; integrity check: "
              f"{told['integrity']}; the rig said: {told['said']}")  # fmt: skip
        print(f"  in the end {told['state']}: {told['fetched']} fetched, {told['written']} on the card only, "
              f"{told['missed']} missed, {outcome.lost} lost, {outcome.noted} noted without a slot; camera took "
              f"{outcome.taken}; wrong: {[*outcome.log_lacks, *outcome.camera_lacks, *outcome.misplaced, *outcome.trouble]}")  # fmt: skip  # noqa: E501
    return 0 if well else 1


if __name__ == "__main__":
    try:
        alone()
        with tempfile.TemporaryDirectory() as trial:
            reason = why_not(Path(trial))
        with subprocess.Popen(["sleep", "60"]) as sleeper:
            try:
                with failing(sleeper.pid):
                    pass
            finally:
                sleeper.kill()
    except OSError as error:
        reason = str(error)
    if reason is not None:
        print(reason, file=sys.stderr)
        sys.exit(2)
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else 20.0, sys.argv[2:] or KINDS))
