"""A shoot whose service ends abruptly, again and again, and its log held against what the camera itself recorded."""

from __future__ import annotations

import asyncio
import hashlib
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from controller.store import Store
from controller.store.files import database_path
from controller.words.documents import Frame, FrameState, Note
from tests.support.fault_schedule import Outcome, Schedule, compare
from tests.support.rigs import Evening, plan
from tests.support.service import Service
from tests.support.simcam import SimulatedCamera

BACK_S = 120.0
"""Wall seconds for which a frame is waited for after a start."""

SOON = 0.15
"""Share of starts that are ended before, or just as, they are ready."""

Cut = Callable[[Service], None]
"""Ends a service abruptly, with whatever goes down with it."""


@dataclass
class Endings:
    """What came of a shoot with so many abrupt ends: seconds from each start to ready, and to an open shutter.

    `bare_s` is what a process takes that loads the same libraries and does nothing, measured beside it.
    """

    outcome: Outcome
    ends: int = 0
    ready_s: list[float] = field(default_factory=list)
    back_s: list[float] = field(default_factory=list)
    bare_s: list[float] = field(default_factory=list)

    @classmethod
    def of(cls, document: dict[str, Any]) -> Endings:
        return cls(**{**document, "outcome": Outcome(**document["outcome"])})

    def document(self) -> dict[str, Any]:
        return asdict(self)


def draw(seed: int) -> Schedule:
    """The rig of a number, the same for the same number; it has no faults of its own."""
    dice = random.Random(seed)
    rate = dice.choice((1.0, 20.0, 20.0))
    camera = {"files": dice.choice(("jpeg", "jpeg", "raw+jpeg")), "write": 0.03 * rate, "readout": 0.01 * rate}
    fetch = dice.choice(("preview", "all", "all", "none"))
    return Schedule(seed, 0, rate, dice.choice((0.3, 0.4)), camera, fetch, ())


def shoot_through(schedule: Schedule, directory: Path, rig: Path, ends: int, cut: Cut) -> Endings:
    """Shoot in `rig`, ended `ends` times by `cut` at moments that the schedule's number gives; then stop in order."""
    dice = random.Random(schedule.seed)
    outcome, begun = Outcome(schedule.seed), time.monotonic()
    result = Endings(outcome)
    evening = Evening(schedule.rate)
    with evening.camera(directory, **schedule.camera) as camera:
        service = Service(rig, camera, clock=evening.clock)
        service.wait_for_camera()
        shoot = service.shoot(_plan(schedule))
        _released_after(camera, time.monotonic())
        while result.ends < ends and not outcome.trouble:
            time.sleep(dice.uniform(0.0, 2.5))
            cut(service)
            result.ends += 1
            outcome.trouble += _integrity(rig)
            started = time.monotonic()
            service = Service(rig, camera, clock=evening.clock, wait=False)
            if result.ends < ends and dice.random() < SOON:
                time.sleep(dice.uniform(0.0, 2.0))
                continue
            try:
                service.ready()
            except RuntimeError as error:
                outcome.trouble.append(str(error))
                break
            result.ready_s.append(round(time.monotonic() - started, 2))
            back_s = _released_after(camera, started)
            if back_s is None:
                outcome.trouble.append(f"no frame within {BACK_S:.0f} s of start {result.ends}")
            else:
                result.back_s.append(round(back_s, 2))
            if result.ends % 5 == 0:
                result.bare_s.append(round(_bare_start_s(), 2))
        if service.process.poll() is None:
            service.post(f"/api/v1/shoots/{shoot}/stop", {})
            end = service.wait_for_end(shoot)
            outcome.state = end["state"]
            service.stop()
        log, notes = asyncio.run(_log(rig, shoot))
        record = camera.record()
    outcome.took_s = round(time.monotonic() - begun, 1)
    compare(schedule, outcome, log, record, notes, camera)
    outcome.trouble += files_as_logged(rig, log)
    return result


def _plan(schedule: Schedule) -> dict[str, Any]:
    light = {"kind": "fixed", "shutter_s": 0.02 * schedule.rate, "aperture": 5.6, "iso": 400}
    if schedule.rate > 1:
        limits = {"shutter_s": [0.0005, 0.02 * schedule.rate], "iso": [100, 3200], "aperture": [2.8, 2.8]}
        light = {"kind": "follow", **limits}
    document = plan(schedule.interval_s * schedule.rate, light=light, files={"fetch": schedule.fetch})
    document["pace"]["min_gap_s"] = 0.1
    return document


def _released_after(camera: SimulatedCamera, since_mono: float) -> float | None:
    """Seconds from a moment until the shutter opened after it, waited for; None where it did not."""
    while time.monotonic() < since_mono + BACK_S:
        later = [shot["released_mono"] for shot in camera.record()[-20:] if shot["released_mono"] > since_mono]
        if later:
            return float(min(later)) - since_mono
        time.sleep(0.05)
    return None


def _bare_start_s() -> float:
    begun = time.monotonic()
    subprocess.run([sys.executable, "-c", "import controller.daemon, api.server, gphoto2"], check=True)
    return time.monotonic() - begun


def _integrity(rig: Path) -> list[str]:
    """What SQLite finds in the database as the end left it; a copy is looked at, which changes nothing for the rig."""
    with tempfile.TemporaryDirectory() as name:
        for path in rig.glob(f"{database_path(rig).name}*"):
            if not path.name.endswith(("-shm", "-lock")):
                shutil.copy(path, name)
        with closing(sqlite3.connect(database_path(Path(name)))) as connection:
            try:
                found = [row[0] for row in connection.execute("PRAGMA integrity_check")]
                found += [f"a foreign key: {tuple(row)}" for row in connection.execute("PRAGMA foreign_key_check")]
            except sqlite3.DatabaseError as error:
                found = [str(error)]
    return [f"integrity check: {line}" for line in found if line != "ok"]


async def _log(rig: Path, shoot: str) -> tuple[list[Frame], list[Note]]:
    async with await Store.open(database_path(rig), read_only=True) as store:
        return await store.frames(shoot, limit=1_000_000), await store.notes(shoot, limit=1_000_000)


def files_as_logged(rig: Path, log: list[Frame]) -> list[str]:
    """Files that the log names and that are not there as it says, and what was left half written."""
    wrong = []
    for frame in log:
        if frame.state is FrameState.FETCHED:
            path = rig / (frame.local_file or "none")
            if not path.is_file() or hashlib.sha256(path.read_bytes()).hexdigest() != frame.sha256:
                wrong.append(f"slot {frame.seq}: {frame.local_file} is not as the log says")
    wrong += [f"left over: {path.relative_to(rig)}" for path in rig.rglob("*.part")]
    return wrong
