"""The rig's second places: what is fetched is copied to each, by a queue in the log that outlasts everything."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import time
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any, Protocol

from controller.copying.process import PlaceProcess
from controller.decide.places import AnyPlace
from controller.engine.hub import Hub
from controller.engine.noting import note
from controller.engine.places import places_in
from controller.store import Store
from controller.words.clock import Clock
from controller.words.copies import Copies, PlaceCopies
from controller.words.documents import Frame, PlaceNow
from controller.words.errors import BadInput, CopyError, StoreError

log = logging.getLogger(__name__)

LOOK_EVERY_S = 10.0
"""Wall seconds between looks for something new to copy."""

IDLE_S = 60.0
"""Wall seconds without work, after which a place's process is ended and its memory given back."""

FIRST_AGAIN_S, LONGEST_AGAIN_S = 10.0, 900.0
"""Wall seconds until a place that failed is tried again: doubled each time, up to the second."""

AWAY = frozenset({"place-away", "place-failed", "copy-damaged"})
"""Codes of troubles that mostly pass; the others wait for a person."""

_AT_ONCE = 20


class _Rig(Protocol):
    directory: Path
    clock: Clock
    store: Store
    hub: Hub


@dataclass(frozen=True, slots=True)
class Looked:
    """A frame's files in one place, read back, and on the rig. `where` tells places apart that are one underneath."""

    whole: bool
    on_rig: bool
    where: str
    elsewhere: bool


class Copying:
    """Copies to all places at once, frame by frame. Nothing here may keep a frame from being shot."""

    def __init__(self, rig: _Rig) -> None:
        self._rig = rig
        self.trouble: str | None = None
        self.places: dict[str, PlaceAtWork] = {}
        self._changing = asyncio.Lock()

    async def open(self) -> None:
        """Take in places.toml, and go on copying. A document that cannot be used is told, and stops nothing else."""
        found: dict[str, AnyPlace] = {}
        try:
            found = places_in(self._rig.directory)
            await self._rig.store.copies.set_places({name: place.target for name, place in found.items()})
            await self._rig.store.copies.unstick()
            self.trouble = None
        except (BadInput, StoreError) as error:  # what was ordered for places that are not read now stays ordered
            self.trouble, found = str(error), {}
            await note(self._rig, "copies-trouble", f"nothing is copied: {error}", code=error.code)
        self.places = {name: PlaceAtWork(name, place, self._rig) for name, place in found.items()}
        for place in self.places.values():
            await place.open()

    async def close(self) -> None:
        """End all processes; what is half sent goes on from there."""
        await asyncio.gather(*(place.close() for place in self.places.values()))

    async def again(self) -> None:
        """Read places.toml anew, and try everything now."""
        async with self._changing:
            await self.close()
            await self.open()

    def apart(self, names: Iterable[str]) -> dict[str, PlaceAtWork]:
        """Those of these places that are on other disks than the rig's and than each other's, as far as is known."""
        found: dict[str, PlaceAtWork] = {}
        taken: set[str] = set()
        for name in sorted(names):
            place = self.places.get(name)
            if place is None or place.elsewhere is False or place.where in taken:
                continue
            found[name] = place
            taken.add(place.where or name)
        return found

    def now(self) -> list[PlaceNow]:
        """Each place as the phone sees it."""
        return [place.now() for place in self.places.values()]

    async def all(self) -> Copies:
        """What is copied where. Raises StoreError."""
        log_ = self._rig.store.copies
        places = []
        for name, place in self.places.items():
            counts = await log_.counts(name)
            told = {**place.now().model_dump(), "waiting": counts.waiting}
            more = {"copied": counts.copied, "copied_bytes": counts.copied_bytes}
            places.append(PlaceCopies(**told, **more, waiting_bytes=counts.waiting_bytes, stuck=counts.stuck))
        rig, card = await log_.freed()
        return Copies(trouble=self.trouble, places=places, rig_freed=rig, card_freed=card)


class PlaceAtWork:
    """One place: its queue, its process, and what is the matter with it."""

    def __init__(self, name: str, place: AnyPlace, rig: _Rig) -> None:
        self.name, self._rig = name, rig
        self._process = PlaceProcess(place.settings(), rig.directory)
        self.where: str | None = None  # as it last told, which see Looked
        self.elsewhere: bool | None = None
        self._waiting = 0
        self._copying: str | None = None
        self._trouble: CopyError | None = None
        self._retry_mono: float | None = None
        self._free_bytes: int | None = None
        self._last_utc: float | None = None
        self._failures = 0
        self._task: asyncio.Task[None] | None = None

    async def open(self) -> None:
        self._waiting = await self._rig.store.copies.waiting_count(self.name)
        self._task = asyncio.create_task(self._run(), name=f"copies to {self.name}")

    async def close(self) -> None:
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task
        await self._process.close()

    def now(self) -> PlaceNow:
        retry_s = None if self._retry_mono is None else round(max(0.0, self._retry_mono - time.monotonic()), 1)
        return PlaceNow(
            name=self.name,
            waiting=self._waiting,
            trouble=None if self._trouble is None else told(self._trouble),
            remedy=None if self._trouble is None else self._trouble.remedy,
            by_itself=self._trouble is not None and self._trouble.code in AWAY,
            retry_in_s=retry_s,
            copying=self._copying,
            free_bytes=self._free_bytes,
            last_utc=self._last_utc,
            failures=self._failures,
        )

    async def look(self, frame: Frame) -> Looked:
        """Read a frame's files back, from the place itself. Raises CopyError where that cannot be done now."""
        answer = await self._ask("look", frame)
        return Looked(answer["whole"], answer["on_rig"], answer["where"], answer["elsewhere"])

    # ---- the queue

    async def _run(self) -> None:
        idle_mono, again_s = time.monotonic(), FIRST_AGAIN_S
        while True:
            try:
                frames = await self._rig.store.copies.waiting(self.name, _AT_ONCE)
                for frame in frames:
                    await self._copy(frame)
                    await self._well()
                    idle_mono, again_s = time.monotonic(), FIRST_AGAIN_S
            except CopyError as error:
                await self._ill(error, again_s)
                if again_s > IDLE_S:
                    await self._process.rest()
                await self._rest(again_s)
                again_s = min(2 * again_s, LONGEST_AGAIN_S)
                self._retry_mono = None
                continue
            except StoreError as error:  # the log cannot be read or written now: told where it is noticed
                log.info("copies to %s wait: %s", self.name, error)
                frames = []
            except Exception as error:  # a fault of ours must not end the copies of a winter
                log.exception("copies to %s", self.name)
                what = f"Duskhand failed at it: {type(error).__name__}"
                await self._ill(CopyError("copy-process", what, remedy="See the service's log"), LONGEST_AGAIN_S)
                await self._rest(LONGEST_AGAIN_S)
                continue
            if not frames:
                if time.monotonic() - idle_mono > IDLE_S:
                    await self._process.rest()
                await self._rest(LOOK_EVERY_S)

    async def _rest(self, seconds: float) -> None:
        """Wait, and know meanwhile how many wait."""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            with contextlib.suppress(StoreError):
                self._waiting = await self._rig.store.copies.waiting_count(self.name)
            await asyncio.sleep(min(left, LOOK_EVERY_S))

    async def _copy(self, frame: Frame) -> None:
        """One frame, all its files. Raises CopyError where the place is to blame, StoreError."""
        assert frame.id is not None
        log_, utc = self._rig.store.copies, self._rig.clock.utc()
        files = files_of(frame)
        self._copying = frame.local_file
        try:
            if frame.rig_freed_utc is not None:
                raise _no_file("is not on the rig any more", frame)
            if not files:
                raise _no_file("is no file of the rig's directory", frame)
            sums = (await self._ask("put", frame))["sums"]
        except CopyError as error:
            if not error.file:
                raise
            self._failures += 1
            await log_.stuck(frame.id, self.name, str(error))
            text = f"frame {frame.seq} is not copied to {self.name}: {error}"
            await note(self._rig, "copy-stuck", text, shoot=frame.shoot, seq=frame.seq, place=self.name)
            return
        finally:
            self._copying = None
        if any(file["sha256"] is None for file in files):  # a log that was made anew, or is of an older version
            found = dict(zip(("sha256", "companion_sha256"), sums, strict=False))
            await self._rig.store.change_frame(frame.shoot, frame.seq, frame.camera, **found)
        await log_.copied(frame.id, self.name, utc)
        self._waiting, self._last_utc = max(0, self._waiting - 1), utc

    async def _ask(self, do: str, frame: Frame) -> dict[str, Any]:
        files = [{**file, "path": str(self._rig.directory / str(file["name"]))} for file in files_of(frame)]
        answer = await self._process.ask(do=do, files=files)
        self._free_bytes, self.where, self.elsewhere = answer["free_bytes"], answer["where"], answer["elsewhere"]
        return answer

    # ---- what is the matter

    async def _well(self) -> None:
        if self._trouble is not None:
            self._trouble = self._retry_mono = None
            await note(self._rig, "copies-again", f"copies go to {self.name} again", place=self.name)

    async def _ill(self, error: CopyError, again_s: float) -> None:
        """Noted when it begins and when it becomes another kind of trouble, not at every try nor in other words."""
        news = self._trouble is None or self._trouble.code != error.code
        self._trouble, self._retry_mono = error, time.monotonic() + again_s
        self._failures += 1
        if news:
            text = f"copies to {self.name} wait: {error}"
            await note(self._rig, "copies-trouble", text, place=self.name, code=error.code)


def files_of(frame: Frame) -> list[dict[str, Any]]:
    """The fetched files of a frame as `controller.copying` is told of them; `sha256` is None where the log lost it.

    Names are relative to the rig's directory, and the same in every place.
    """
    if frame.local_file is None or not _below(frame.local_file):
        return []
    if frame.companion_file is None:
        size = None if frame.sha256 is None else frame.bytes  # of a row that was made anew it may be a pair's
        return [{"name": frame.local_file, "bytes": size, "sha256": frame.sha256}]
    second = str(Path(frame.local_file).with_suffix(Path(frame.companion_file).suffix))
    pair = [(frame.local_file, frame.sha256), (second, frame.companion_sha256)]
    return [{"name": name, "bytes": None, "sha256": sha256} for name, sha256 in pair]


def summed(frame: Frame) -> bool:
    """Whether the log has the checksums of all fetched files of a frame, against which they can be read back."""
    files = files_of(frame)
    return bool(files) and all(file["sha256"] is not None for file in files)


def told(error: CopyError) -> str:
    """What and where, without the remedy."""
    return f"{error.where}: {error.what}" if error.where else error.what


def _below(name: str) -> bool:
    """Whether a path stays below the directory that it is put to."""
    path = PurePosixPath(name)
    return not path.is_absolute() and ".." not in path.parts


def _no_file(what: str, frame: Frame) -> CopyError:
    where = frame.local_file or f"frame {frame.seq}"
    return CopyError("rig-file-damaged", what, where, "It is not copied. Take it from the card by hand", file=True)
