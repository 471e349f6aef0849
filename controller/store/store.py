"""The frame log as the engine, the API and the commands see it."""

from __future__ import annotations

import asyncio
import contextlib
import sqlite3
from collections.abc import Collection
from pathlib import Path
from types import TracebackType
from typing import Any

from controller.store import access, bodies, damage, frame_log, frame_pages, plans, shoots, tone_curves
from controller.store.bodies import Times
from controller.store.copy_log import CopyLog
from controller.store.database import Database, explain_damage
from controller.store.frame_pages import Page
from controller.store.sidecar import Sidecars
from controller.store.tone_curves import BodyKey, ToneCurve
from controller.words.access import Rights, Session
from controller.words.bodies import BeatFound, BodySeen
from controller.words.documents import Frame, FrameCounts, Note, PlanVersion, Shoot, TroubleCounts
from controller.words.errors import StoreError


class Store:
    """An async facade over one SQLite file. What a writing call answers is on the disk when it answers.

    Every call raises StoreError where the disk or the database fails; the next call may well succeed.
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        self.path = database.path
        self._sidecars = Sidecars(database.path.parent)
        self.copies = CopyLog(database)

    @classmethod
    async def open(cls, path: Path, *, read_only: bool = False) -> Store:
        """Open the database at `path`; made or migrated where need be, unless `read_only`.

        A reader may open it beside the daemon that writes. Raises StoreError (not a database, another program's,
        newer, altered, in use by another daemon) and, read-only, NotFound where there is none.
        """
        return cls(await asyncio.to_thread(Database, path, read_only=read_only))

    async def close(self) -> None:
        await self._database.close()

    async def __aenter__(self) -> Store:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.close()

    async def touch(self) -> None:
        """Have the writer take its turn and commit; nothing is changed."""
        await self._database.write(lambda c: None)

    # ---- the database itself

    @property
    def aside(self) -> tuple[Path, str] | None:
        """The new name of a damaged database that stood here when this one was opened, and what was wrong with it."""
        return self._database.aside

    @property
    def unclean(self) -> bool:
        """Whether the last one that wrote to it did not close it, as after a power cut."""
        return self._database.unclean

    @property
    def unchecked(self) -> bool:
        """Whether all of it is still to be checked, see `check`."""
        return self.unclean and self.path.stat().st_size > damage.CHECK_BYTES

    @property
    def damage(self) -> StoreError | None:
        """What was found damaged since it was opened; the next start puts the database aside."""
        return self._database.damage

    async def check(self) -> None:
        """Have SQLite check all of it, which takes a time that grows with it; `damage` tells what it found."""
        try:
            found = await asyncio.to_thread(damage.check, self.path)
        except sqlite3.Error as error:
            found = str(error) if damage.is_damage(error) else None
        if found is not None:
            self._database.found(explain_damage(found, self.path))

    # ---- plans

    async def put_plan(self, name: str, document: dict[str, Any], utc: float, expected: str | None = None) -> str:
        """Keep or replace a plan; its version's hash. Raises Changed where `expected` is not the version replaced."""
        return await self._database.write(lambda c: plans.put_plan(c, name, document, utc, expected))

    async def get_plan(self, name: str) -> dict[str, Any]:
        """The document. Raises NotFound."""
        return await self._database.read(lambda c: plans.get_plan(c, name))

    async def plans(self) -> dict[str, dict[str, Any]]:
        """Name -> document, by name."""
        return await self._database.read(plans.plans)

    async def delete_plan(self, name: str, expected: str | None = None) -> None:
        """With its versions. Raises NotFound, and Changed where `expected` is not the version that is there."""
        await self._database.write(lambda c: plans.delete_plan(c, name, expected))

    async def copy_plan(self, name: str, new: str, utc: float) -> dict[str, Any]:
        """The copy. Raises NotFound, Conflict where the new name is taken."""
        return await self._database.write(lambda c: plans.copy_plan(c, name, new, utc))

    async def rename_plan(self, name: str, new: str, utc: float) -> dict[str, Any]:
        """The plan under its new name, versions and all. Raises NotFound, Conflict where that name is taken."""
        return await self._database.write(lambda c: plans.rename_plan(c, name, new, utc))

    async def plan_versions(self, name: str) -> list[PlanVersion]:
        """Newest first. Raises NotFound."""
        return await self._database.read(lambda c: plans.plan_versions(c, name))

    async def plan_version(self, name: str, sha256: str) -> dict[str, Any]:
        """The document as it was. Raises NotFound."""
        return await self._database.read(lambda c: plans.plan_version(c, name, sha256))

    async def put_defaults(self, document: dict[str, Any]) -> None:
        """Keep what plans leave to the rig."""
        await self._database.write(lambda c: plans.put_defaults(c, document))

    async def defaults(self) -> dict[str, Any]:
        """What plans leave to the rig; empty where nothing was kept."""
        return await self._database.read(plans.defaults)

    # ---- shoots

    async def add_shoot(self, shoot: Shoot) -> Shoot:
        """Raises Conflict where the id is taken."""
        added = await self._database.write(lambda c: shoots.add_shoot(c, shoot))
        with contextlib.suppress(StoreError):  # it is in the log; the next change of it writes it again
            await self._sidecars.keep(added)
        return added

    async def change_shoot(self, shoot: str, **fields: Any) -> Shoot:
        """Set fields of a shoot, any but `id` and `counts`. Raises NotFound; TypeError for a field it has not."""
        changed = await self._database.write(lambda c: shoots.change_shoot(c, shoot, fields))
        await self._sidecars.keep(changed)
        return changed

    async def shoot(self, shoot: str) -> Shoot:
        """With its counts. Raises NotFound."""
        return await self._database.read(lambda c: shoots.get_shoot(c, shoot))

    async def shoots(self) -> list[Shoot]:
        """All, oldest first."""
        return await self._database.read(shoots.shoots)

    async def open_shoots(self) -> list[Shoot]:
        """Those that are not done, stopped or failed; oldest first."""
        return await self._database.read(shoots.open_shoots)

    async def counts(self, shoot: str, camera: str | None = None) -> FrameCounts:
        """Slots per state, without counting them but for one of several cameras. Raises NotFound."""
        return await self._database.read(lambda c: shoots.counts(c, shoots.shoot_key(c, shoot), camera))

    # ---- frames

    async def intend(self, frame: Frame) -> int:
        """Log a slot before its release; the frame's id. Raises NotFound (shoot), Conflict (slot is logged)."""
        return await self._database.write(lambda c: frame_log.add_frame(c, frame))

    async def add_missed(self, missed: list[Frame]) -> list[int]:
        """Log slots that passed, all or none; their ids."""
        return await self._database.write(lambda c: frame_log.add_frames(c, missed))

    async def change_frame(self, shoot: str, seq: int, camera: str, **fields: Any) -> Frame:
        """Set fields of a logged frame; the whole frame. Raises NotFound; TypeError for a field it has not."""
        return await self._database.write(lambda c: frame_log.change_frame(c, shoot, seq, camera, fields))

    async def frames(
        self, shoot: str, after: int = 0, limit: int = 500, camera: str | None = None, *, named: bool = False
    ) -> list[Frame]:
        """Slots numbered above `after`, by number, without those that are 'due'. Raises NotFound.

        Where several cameras share a slot, the last slot comes whole even if that exceeds `limit`. `named`: only those
        that have a name on the card.
        """
        return await self.page(shoot, Page(after=after, limit=limit, camera=camera, named=named))

    async def page(self, shoot: str, page: Page) -> list[Frame]:
        """A page of the log as `page` says. Raises NotFound."""
        return await self._database.read(lambda c: frame_pages.frames(c, shoot, page))

    async def troubles(self, shoot: str, camera: str | None = None) -> TroubleCounts:
        """How many slots were missed, and how many are doubtful. Raises NotFound."""
        return await self._database.read(lambda c: frame_pages.troubles(c, shoot, camera))

    async def frame(self, frame: int) -> Frame:
        """By its id. Raises NotFound."""
        return await self._database.read(lambda c: frame_log.get_frame(c, frame))

    async def last_frame(self, shoot: str, camera: str | None = None) -> Frame | None:
        """The slot with the highest number, 'due' ones too: the next slot counts on from it."""
        return await self._database.read(lambda c: frame_log.last_frame(c, shoot, camera))

    async def has_pictures(self, shoot: str, camera: str | None, source: str = "auto") -> bool:
        """Whether rows tell of files on the rig for a clip of this source; the files are not looked at."""
        return await self._database.read(lambda c: frame_log.has_pictures(c, shoot, camera, source))

    async def open_frames(self, shoot: str, camera: str | None = None) -> list[Frame]:
        """Slots whose end is not known ('due', 'released'), by number."""
        return await self._database.read(lambda c: frame_log.open_frames(c, shoot, camera))

    async def unfetched(
        self, shoot: str, start: int, limit: int, every: int = 1, camera: str | None = None
    ) -> list[Frame]:
        """Slots from `start` on, of every so manyth, that are on the card only ('written'); the first ones."""
        return await self._database.read(lambda c: frame_log.unfetched(c, shoot, start, limit, every, camera))

    async def unnamed(self, shoot: str, paths: Collection[str], camera: str) -> set[str]:
        """Those of a card's files that no row of this camera names."""
        return await self._database.read(lambda c: frame_log.unnamed(c, shoot, paths, camera))

    async def withdraw(self, shoot: str, seq: int, camera: str) -> None:
        """Take back the intent to release a slot. Raises NotFound unless it is 'due'."""
        await self._database.write(lambda c: frame_log.withdraw(c, shoot, seq, camera))

    # ---- notes

    async def note(self, note: Note) -> Note:
        """Log it; the note with its id. Raises NotFound (shoot)."""
        return await self._database.write(lambda c: shoots.note(c, note))

    async def notes(self, shoot: str | None = None, limit: int = 200, kind: str | None = None) -> list[Note]:
        """The newest `limit` notes, of one shoot or of everything, of one kind or of all; oldest first."""
        return await self._database.read(lambda c: shoots.notes(c, shoot, limit, kind))

    # ---- tone curves

    async def put_curve(self, body: BodyKey, curve: ToneCurve) -> None:
        """Keep or replace the tone curve of a body and picture style."""
        await self._database.write(lambda c: tone_curves.put_curve(c, body, curve))

    async def curve(self, body: BodyKey) -> ToneCurve | None:
        """What was learned of a body and picture style, None where nothing was."""
        return await self._database.read(lambda c: tone_curves.get_curve(c, body))

    # ---- access

    async def add_session(self, name: str, rights: Rights, secret: bytes, utc: float) -> Session:
        """Let a device in; `secret` is the SHA-256 of what it shows."""
        return await self._database.write(lambda c: access.add(c, name, rights, secret, utc))

    async def sessions(self) -> dict[bytes, Session]:
        """Who was let in, by the SHA-256 of their secrets."""
        return await self._database.read(access.sessions)

    async def session_seen(self, session: int, utc: float) -> None:
        await self._database.write(lambda c: access.seen(c, session, utc))

    async def revoke_session(self, session: int) -> None:
        """Raises NotFound."""
        await self._database.write(lambda c: access.revoke(c, session))

    # ---- bodies

    async def put_body(self, body: BodySeen) -> None:
        """Keep what a body was seen to do; what it did not show this time stays as it was."""
        await self._database.write(lambda c: bodies.put_body(c, body))

    async def add_times(self, model: str, serial: str, times: Times) -> None:
        """Add what was measured of a body, by kind of files and measure, to what is kept of it."""
        await self._database.write(lambda c: bodies.add_times(c, model, serial, times))

    async def put_beat(self, model: str, serial: str, beat: BeatFound) -> None:
        """Keep the shortest interval that a body was seen to hold, in the place of the last with these files."""
        await self._database.write(lambda c: bodies.put_beat(c, model, serial, beat))

    async def bodies(self) -> list[BodySeen]:
        """Every body that was seen, the last one first."""
        return await self._database.read(bodies.bodies)
