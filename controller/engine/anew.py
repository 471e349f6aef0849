"""A log that lacks what the rig's disk knows: rows are made anew from shoots' own words and from their pictures.

That is so after a damaged database was put aside, and after a damaged write-ahead log, which SQLite reads only as far
as it is whole. What is made anew says so, in the row and in a note; what cannot be is told as lost.
"""

from __future__ import annotations

import asyncio
import itertools
import logging
import statistics
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from controller.decide.plan import FixedLight, plan_from
from controller.engine.passed import MOST
from controller.store import Store, pictures
from controller.store.pictures import OnDisk, exposure_of
from controller.store.sidecar import read_all
from controller.words.clock import Clock
from controller.words.documents import Frame, FrameState, Note, Shoot
from controller.words.errors import BadInput, StoreError
from controller.words.layout import shoot_directory
from controller.words.stops import exposure_ev

log = logging.getLogger(__name__)

NOTE = "log-made-anew"
FROM_PICTURE = "made anew from its picture on the rig; its times are those of the file"
NO_PICTURE = "the log's row of this slot was lost, and no picture of it is on the rig: look at the card"
LOST = "Pairings, plans that were never shot, the rig's defaults and what was learned of cameras are lost"

REMEDY = "Pair phones again: duskhand pair"

STANDS_S = 7 * 86_400.0
"""For which a log that was made anew is told: whoever it is for may come days later."""

AHEAD = 2000
"""Slots after the last row that are looked for: more than a write-ahead log holds."""

EXPOSURES = 20
"""Pictures that are asked for the exposure they were taken with: the shoot goes on from the last."""

TOGETHER = 2000


@dataclass(frozen=True, slots=True)
class MadeAnew:
    """A log that was made anew as a whole, as it is told to people; `kept` is the name of the damaged one, if any."""

    utc: float
    kept: str | None
    shoots: int
    frames: int

    @property
    def what(self) -> str:
        damage = "damaged" if self.kept else "missing or empty"
        return f"The frame log was {damage} and is made anew (shoots: {self.shoots}, frames: {self.frames})"

    @property
    def line(self) -> str:
        return f"{self.what}. {REMEDY}"

    def stands(self, utc: float) -> bool:
        """Whether it is still told."""
        return abs(utc - self.utc) <= STANDS_S


async def make_anew(store: Store, directory: Path, clock: Clock) -> list[str]:
    """Before shoots are taken up: what the log lacks is made anew and noted; answered in lines for a person.

    Raises StoreError.
    """
    said: list[str] = []
    known = {shoot.id for shoot in await store.shoots()}
    try:
        found, unread = await asyncio.to_thread(read_all, directory)
    except OSError as error:  # what cannot be read keeps no rig from shooting
        log.warning("what lies on the rig cannot be read: %s", error)
        found, unread = [], [directory]
    lacking = [shoot for shoot in found if shoot.id not in known]
    if store.aside is not None or lacking:
        said.append(await _whole(store, directory, clock, lacking, unread))
    if store.unclean:
        whole = {shoot.id for shoot in lacking}
        for shoot in await store.open_shoots():
            said += [] if shoot.id in whole else await _tail(store, directory, clock, shoot)
    for line in said:
        log.warning("%s", line)
    return said


async def _whole(store: Store, directory: Path, clock: Clock, lacking: list[Shoot], unread: list[Path]) -> str:
    kept, why = store.aside if store.aside is not None else (None, "missing or empty")
    counts: dict[str, int] = {}
    for shoot in lacking:
        await _shoot(store, shoot, clock)
        try:
            counts[shoot.id] = await _rows(store, directory, shoot, after={})
        except OSError as error:
            log.warning("%s: its pictures cannot be read: %s", shoot.id, error)
            counts[shoot.id] = 0
            unread.append(directory / shoot_directory(shoot.id))
    utc = clock.utc()
    told = MadeAnew(utc, None if kept is None else kept.name, len(counts), sum(counts.values()))
    text = f"{told.what} from what lies on the rig. "
    text += f"The old one is kept as {kept.name}. " if kept is not None else ""
    text += f"Not readable: {', '.join(str(path.relative_to(directory)) for path in unread)}. " if unread else ""
    text += f"{LOST}. {REMEDY}"
    facts = {"why": why, "kept": told.kept, "frames": counts, "unread": [str(path) for path in unread]}
    for each in (*counts, None):  # the last of them all is the rig's own
        await store.note(Note(utc=utc, shoot=each, kind=NOTE, text=text, facts=facts))
    log.warning("the frame log was made anew, since: %s", why)
    return told.line


def unseen(error: StoreError) -> str:
    """What a person is told where the log takes nothing as the rig starts, so that loose ends stay."""
    return f"What was in hand when the rig ended was not looked at: {error}"


async def told_lately(store: Store) -> MadeAnew | None:
    """The last time that the log was made anew, None where it never was. Raises StoreError."""
    whole = [note for note in await store.notes(kind=NOTE) if "kept" in note.facts and note.shoot is None]
    if not whole:
        return None
    facts = whole[-1].facts
    return MadeAnew(whole[-1].utc, facts["kept"], len(facts["frames"]), sum(facts["frames"].values()))


async def _shoot(store: Store, shoot: Shoot, clock: Clock) -> None:
    await store.add_shoot(shoot)
    await store.put_plan(shoot.plan_name, shoot.plan, clock.utc())  # the newest shoot of it comes last


async def _tail(store: Store, directory: Path, clock: Clock, shoot: Shoot) -> list[str]:
    """Slots of a shoot under way that come after the log's last row, and of which there is a picture."""
    after: dict[str, int] = {}
    try:
        for camera in await asyncio.to_thread(pictures.cameras, directory, shoot.id):
            last = await store.last_frame(shoot.id, camera)
            seq = 0 if last is None else last.seq
            if await asyncio.to_thread(pictures.beyond, directory, shoot.id, camera, seq, AHEAD):
                after[camera] = seq
        if not after:
            return []
        made = await _rows(store, directory, shoot, after=after)
    except OSError as error:
        log.warning("%s: its pictures cannot be read: %s", shoot.id, error)
        return []
    text = f"Shoot {shoot.id}: rows lost from the log are made anew from the pictures on the rig ({made})"
    await store.note(Note(utc=clock.utc(), shoot=shoot.id, kind=NOTE, text=text, facts={"after": after}))
    return [text]


async def _rows(store: Store, directory: Path, shoot: Shoot, after: dict[str, int]) -> int:
    """Make the rows of a shoot's cameras beyond those numbers, all of them where none is given; how many."""
    made = 0
    for camera in list(after) or await asyncio.to_thread(pictures.cameras, directory, shoot.id):
        found = await asyncio.to_thread(pictures.on_disk, directory, shoot.id, camera)
        since = after.get(camera, 0)
        beyond = _in_reach({seq: slot for seq, slot in found.items() if seq > since}, since)
        exposures = await asyncio.to_thread(_exposures, directory, shoot, beyond)
        rows = frames_of(shoot, camera, beyond, since, exposures)
        while batch := list(itertools.islice(rows, TOGETHER)):
            await store.add_missed(batch)
            made += len(batch)
    return made


def _in_reach(found: dict[int, OnDisk], after: int) -> dict[int, OnDisk]:
    """Up to a number that is farther from the one before than an outage leaves: somebody has put that file there."""
    reached: dict[int, OnDisk] = {}
    for seq, slot in found.items():
        if seq - after > MOST:
            break
        reached[seq] = slot
        after = seq
    return reached


Settings = dict[str, float]


def frames_of(
    shoot: Shoot, camera: str, found: dict[int, OnDisk], after: int, exposures: dict[int, Settings]
) -> Iterator[Frame]:
    """Rows for the slots after number `after`, up to the last of which there is a picture; the log has lost those that
    have none. `exposures` are what is known of some of them."""
    if not found:
        return
    steps = [
        (later.utc - earlier.utc) / (seq - before)
        for (before, earlier), (seq, later) in itertools.pairwise(found.items())
        if later.utc > earlier.utc
    ]
    interval_s = round(statistics.median(steps), 1) if steps else 1.0
    first = next(iter(found))
    due_utc = found[first].utc - (first - after) * interval_s
    for seq in range(after + 1, max(found) + 1):
        slot = found.get(seq)
        due_utc = due_utc + interval_s if slot is None else slot.utc
        row = Frame(shoot=shoot.id, seq=seq, camera=camera, due_utc=due_utc, interval_s=interval_s)
        if slot is None:
            yield row.but({"state": FrameState.MISSED, "cause": NO_PICTURE})
            continue
        known: dict[str, object] = {"released_utc": due_utc, "cause": FROM_PICTURE, "preview": slot.preview}
        if (local := slot.first) is not None:
            known |= {"local_file": str(local), "bytes": sum(size for _, size in slot.copies)}
        state = FrameState.WRITTEN if local is None else FrameState.FETCHED
        yield row.but({**exposures.get(seq, {}), **known, "state": state})


def _exposures(directory: Path, shoot: Shoot, found: dict[int, OnDisk]) -> dict[int, Settings]:
    """Of every slot where the plan gives one exposure for all; else of the last ones, as their copies tell."""
    try:
        light = plan_from(shoot.plan).light
    except BadInput:
        return {}
    if isinstance(light, FixedLight) and len(light.offsets) == 1:
        return dict.fromkeys(found, _settings(light.shutter_s, light.aperture, light.iso))
    told = {}
    for seq in list(found)[-EXPOSURES:]:
        exposure = exposure_of(directory / path) if (path := found[seq].first) is not None else None
        if exposure is not None:
            told[seq] = _settings(*exposure)
    return told


def _settings(shutter_s: float, aperture: float, iso: float) -> Settings:
    ev = exposure_ev(shutter_s, aperture, iso)
    return {"shutter_s": shutter_s, "aperture": aperture, "iso": iso, "exposure_ev": ev}
