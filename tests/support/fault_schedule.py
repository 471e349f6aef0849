"""A shoot through faults that are drawn by a number, and its log held against what the camera itself recorded."""

from __future__ import annotations

import asyncio
import contextlib
import os
import random
import signal
import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from controller.daemon import Rig
from controller.engine.book import BESIDE
from controller.words.documents import Frame, FrameState, Note
from tests.support.rigs import Evening, camera_there, ended, plan, rows, until
from tests.support.simcam import SimulatedCamera

KINDS = ("drop", "mute", "busy", "refused", "full", "sleep", "thumbnail", "events", "kill")
HAVE = (FrameState.RELEASED, FrameState.WRITTEN, FrameState.FETCHED)

BACK_S = 120.0
"""Wall seconds after a fault has passed within which a frame must have been released again."""


@dataclass(frozen=True)
class Fault:
    """What happens once so many frames are done. `lasts_s` is how long it stays, where it is ended from outside."""

    kind: str
    at: int
    words: str
    lasts_s: float = 0.0
    times: int = 1


@dataclass(frozen=True)
class Schedule:
    """A rig and what goes wrong with it, all of it drawn from `seed`."""

    seed: int
    frames: int
    rate: float
    interval_s: float  # of the wall's clock
    camera: dict[str, Any]
    fetch: str
    faults: tuple[Fault, ...]


def draw(
    seed: int,
    frames: int,
    kinds: Sequence[str] = KINDS,
    mute_s: float = 30.0,
    makers: Sequence[str] = ("generic",),
) -> Schedule:
    """The schedule of a number, the same for the same number: a fault every 25 frames, or one of each kind named."""
    dice = random.Random(seed)
    count = round(frames / 25) if kinds is KINDS else len(kinds)
    wanted = [*dice.sample(list(kinds), min(count, len(kinds))), *dice.choices(list(kinds), k=count)][:count]
    muted = 0
    faults: list[Fault] = []
    for i, kind in enumerate(wanted):
        at = round((i + dice.uniform(0.3, 0.9)) * frames / (count + 0.5))
        if kind == "mute" and (muted := muted + 1) > 1:
            kind = "drop"
        faults.append(_fault(kind, at, dice, mute_s))
    rate = dice.choice((1.0, 1.0, 20.0))
    camera = {"files": dice.choice(("jpeg", "jpeg", "raw+jpeg")), "write": 0.03 * rate, "readout": 0.01 * rate}
    fetch = dice.choice(("preview", "preview", "all", "none"))
    if fetch == "none" and "thumbnail" in wanted:
        fetch = "preview"  # otherwise nobody would ask for one
    if fetch != "all":
        faults = [replace(f, words="badthumb") if f.words in ("corrupt", "truncate") else f for f in faults]
    camera["maker"] = dice.choice(list(makers))
    return Schedule(seed, frames, rate, dice.choice((0.3, 0.35)), camera, fetch, tuple(faults))


def _fault(kind: str, at: int, dice: random.Random, mute_s: float) -> Fault:
    some_s = round(dice.uniform(1.5, 5.0), 1)
    match kind:
        case "drop":
            return Fault(kind, at, dice.choice(("drop", "cut", "gone(3)", "drop+noevent")))
        case "mute":
            return Fault(kind, at, dice.choice((f"mute({mute_s:g})", f"deaf({mute_s:g})")))
        case "busy":
            return Fault(kind, at, dice.choice((f"busy({some_s:g})", f"refuse(device_busy)*{dice.randint(3, 40)}")))
        case "refused":
            return Fault(kind, at, dice.choice(("access_denied", "device_busy", "2002")), times=dice.randint(1, 12))
        case "full":
            return Fault(kind, at, dice.choice(("full", "nospace")), lasts_s=some_s)
        case "sleep":
            return Fault(kind, at, dice.choice(("sleep(0.15,{0})", "doze(0.2,{0})", "leave(0.2,{0})")), lasts_s=some_s)
        case "thumbnail":
            return Fault(
                kind, at, dice.choice(("badthumb", "nothumb", "corrupt", "truncate")), times=dice.randint(1, 4)
            )
        case "events":
            words = ("noevent", "twice", "noevent twice", "noevent ok noevent", "unwritten")
            return Fault(kind, at, dice.choice(words), times=dice.randint(1, 3))
        case _:
            return Fault("kill", at, "", lasts_s=round(dice.uniform(0.0, 0.3), 3))


@dataclass
class Outcome:
    """What came of a schedule. Lists are empty where all is well."""

    seed: int
    state: str = ""
    took_s: float = 0.0
    slots: int = 0
    taken: int = 0  # exposures by the camera's own record
    done: int = 0
    missed: int = 0
    lost: int = 0
    noted: int = 0  # files that the log names without a slot
    log_lacks: list[str] = field(default_factory=list)
    camera_lacks: list[str] = field(default_factory=list)
    misplaced: list[str] = field(default_factory=list)
    trouble: list[str] = field(default_factory=list)
    faults: list[tuple[str, str, float]] = field(default_factory=list)  # kind, words, seconds to a release

    @property
    def well(self) -> bool:
        return not (self.log_lacks or self.camera_lacks or self.misplaced or self.trouble)


async def shoot_through(schedule: Schedule, directory: Path) -> Outcome:
    """Run it to the end; what is wrong stands in the outcome."""
    outcome, begun = Outcome(schedule.seed), time.monotonic()
    evening = Evening(schedule.rate)
    light = {"kind": "fixed", "shutter_s": 0.02 * schedule.rate, "aperture": 5.6, "iso": 400}
    if schedule.rate > 1:  # the evening falls so fast that settings change every few frames
        light = {
            "kind": "follow",
            "shutter_s": [0.0005, 0.02 * schedule.rate],
            "iso": [100, 3200],
            "aperture": [2.8, 2.8],
        }
    document = plan(
        schedule.interval_s * schedule.rate,
        when={"start": "now", "frames": schedule.frames},
        light=light,
        files={"fetch": schedule.fetch},
    )
    document["pace"]["min_gap_s"] = 0.1
    with evening.camera(directory, **schedule.camera) as camera:
        async with evening.rig(directory, camera.address) as rig:
            await camera_there(rig)
            shoot = await rig.start_shoot(document)
            driver = asyncio.create_task(_drive(schedule, rig, shoot.id, camera, outcome))
            allowed_s = schedule.frames * schedule.interval_s * 4 + len(schedule.faults) * BACK_S
            try:
                shoot = await ended(rig, shoot, allowed_s)
            except TimeoutError:
                outcome.trouble.append(f"the shoot had not ended after {allowed_s:.0f} s")
            driver.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await driver
            log, notes = await rows(rig, shoot), await rig.store.notes(shoot.id, limit=100_000)
        record = camera.record()
    outcome.state, outcome.took_s = shoot.state.value, round(time.monotonic() - begun, 1)
    if shoot.state != "done":
        outcome.trouble.append(f"the shoot ended as {shoot.state}: {shoot.cause}")
    compare(schedule, outcome, log, record, notes, camera)
    return outcome


async def _drive(schedule: Schedule, rig: Rig, shoot: str, camera: SimulatedCamera, outcome: Outcome) -> None:
    """Let each fault happen at its frame, and see a frame released after it."""

    def done() -> int:
        counts = rig.shoots.runs[shoot].document().counts
        return counts.released + counts.written + counts.fetched + counts.lost

    for fault in schedule.faults:
        await until(lambda fault=fault: done() >= fault.at, 3600)
        await _happen(fault, rig, camera)
        passed, before = time.monotonic(), done()
        try:
            await until(lambda before=before: done() > before + 1, BACK_S)
        except TimeoutError:
            outcome.trouble.append(f"no frame within {BACK_S:.0f} s after {fault.kind} {fault.words}")
            return
        outcome.faults.append((fault.kind, fault.words, round(time.monotonic() - passed, 2)))


async def _happen(fault: Fault, rig: Rig, camera: SimulatedCamera) -> None:
    match fault.kind:
        case "kill":
            await asyncio.sleep(fault.lasts_s)
            process = rig.links[0]._process
            if process is not None:
                os.kill(process.pid, signal.SIGKILL)
        case "refused":
            camera.control("refuse", operation="set", code=fault.words, times=fault.times)
            # Under a fixed light nothing would be set: somebody turns the dial, and the worker turns it back.
            while True:
                with contextlib.suppress(ValueError):  # the body is busy
                    camera.control("turn", setting="exposure_index", value=800)
                    break
                await asyncio.sleep(0.02)
        case "sleep":
            camera.control("fault", word=fault.words.format(round(1.5 / rig.clock.rate, 3)))  # by the camera's clock
            await asyncio.sleep(fault.lasts_s)
            camera.control("fault", word="doze(1000000,0)")
        case "full":
            camera.control(**({"do": "fault", "word": "full"} if fault.words == "full" else _script(fault.words)))
            await asyncio.sleep(fault.lasts_s)
            camera.control("fault", word="free")
        case _:
            camera.control(**_script(" ".join([fault.words] * fault.times)))


def _script(words: str) -> dict[str, Any]:
    return {"do": "script", "words": words}


def compare(
    schedule: Schedule,
    outcome: Outcome,
    log: list[Frame],
    record: list[dict[str, Any]],
    notes: Sequence[Note],
    camera: SimulatedCamera,
) -> None:
    """The camera's own record is the truth."""
    on_card = {path.name for path in camera.card.rglob("DUSK*.*")}
    beside = {file.rpartition("/")[2] for note in notes if note.kind in BESIDE for file in note.facts.get("files", ())}
    claims = {name(frame.camera_file): frame for frame in log if frame.camera_file and frame.state in HAVE}
    for frame in log:
        if frame.camera_file and frame.state in HAVE and (other := claims[name(frame.camera_file)]) is not frame:
            outcome.trouble.append(f"{frame.camera_file} stands in the log twice: {frame.seq} and {other.seq}")
    companions = {name(frame.companion_file): frame for frame in log if frame.companion_file and frame.state in HAVE}
    truth = {name(shot["files"][0]): shot for shot in record}
    outcome.slots, outcome.taken = len(log), len(record)
    outcome.done = sum(frame.state in HAVE for frame in log)
    outcome.missed = sum(frame.state is FrameState.MISSED for frame in log)
    outcome.lost = sum(frame.state is FrameState.LOST for frame in log)
    noted = {name(file) for note in notes if note.kind == "unknown-files" for file in note.facts.get("files", ())}
    named = {*claims, *companions}
    outcome.noted = len((on_card & noted - named) & set(truth))
    outcome.log_lacks = sorted(on_card - named - beside - noted)
    outcome.camera_lacks = [
        f"{frame.seq}: {frame.state} {file}"
        for frame in log
        for file in (frame.camera_file, frame.companion_file)
        if frame.state in HAVE and (file or file is frame.camera_file) and name(file) not in on_card
    ]
    for file, frame in claims.items():  # both files of a pair stand at one frame
        if file in truth and {file, name(frame.companion_file)} - {""} != {*map(name, truth[file]["files"])}:
            outcome.misplaced.append(f"{frame.seq} has {file} and {frame.companion_file}")
    unwritten = {file: shot for file, shot in truth.items() if not shot["written"] and file not in beside}
    if outcome.lost > len(unwritten):
        outcome.trouble.append(f"{outcome.lost} frames are said to be lost, {len(unwritten)} were not written")
    _places(outcome, log, claims, truth, unwritten, 0.002 * schedule.rate)
    if [frame.seq for frame in log] != list(range(1, len(log) + 1)):
        outcome.trouble.append("a slot is neither shot nor said to be missed")
    in_order = [frame.camera_file for frame in log if frame.camera_file]
    if in_order != sorted(in_order):
        outcome.misplaced.append("files stand in another order than slots")
    for frame in log:
        if frame.state in (FrameState.LOST, FrameState.MISSED) and not frame.cause:
            outcome.trouble.append(f"slot {frame.seq} is {frame.state} without a cause")
        if frame.state in (FrameState.DUE, FrameState.RELEASED):
            outcome.trouble.append(f"slot {frame.seq} is still {frame.state}")


def _places(
    outcome: Outcome,
    log: list[Frame],
    claims: dict[str, Frame],
    truth: dict[str, dict[str, Any]],
    unwritten: dict[str, dict[str, Any]],
    slack_s: float,
) -> None:
    """Whether each file stands at its own slot; `slack_s`: the record counts milliseconds of the scene.

    A release goes out once the one before has been answered, however busy machine and camera are: so a shutter opens
    after its own slot's release went out, and before that of the next frame.
    """
    released = [frame for frame in log if frame.released_utc is not None]
    for file, frame in claims.items():
        if file not in truth:
            continue
        at_utc, place = _utc(truth[file]["released_utc"]), released.index(frame)
        after = released[place + 1] if place + 1 < len(released) else None
        if _planned(frame) or (after is not None and _planned(after)):
            continue
        if at_utc < _known(frame) - slack_s or (after is not None and at_utc > _known(after) + slack_s):
            outcome.misplaced.append(f"{frame.seq} has {file}, which was released {at_utc - _known(frame):.2f} s after")
    for file, shot in unwritten.items():  # taken, and never on the card: the log must say that it is lost
        at_utc = _utc(shot["released_utc"])
        slot = max((frame for frame in log if _known(frame) <= at_utc + slack_s), key=_known, default=log[0])
        if slot.state is not FrameState.LOST:
            outcome.log_lacks.append(f"{file} ({shot['why']}), taken at slot {slot.seq} ({slot.state}: {slot.cause})")


def _planned(frame: Frame) -> bool:
    """It was released while nobody was told, so that its time in the log is the planned one, as its cause says."""
    return frame.state in HAVE and frame.cause is not None


def _known(frame: Frame) -> float:
    """When a frame was released, or was due."""
    return frame.due_utc if frame.released_utc is None else frame.released_utc


def name(path: str | None) -> str:
    return (path or "").rpartition("/")[2]


def _utc(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()
