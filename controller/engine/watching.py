"""Watches over a rig: looks at it by the checks of decide/health, and tells log, page and people what they find."""

from __future__ import annotations

import asyncio
import json
import logging
import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from controller.decide.health import signs
from controller.decide.health.blurred import NAME as BLURRED
from controller.decide.health.facts import CameraSeen, Readings, Sign
from controller.decide.health.missed_slots import LATELY, usual_cause
from controller.decide.health.usual import Usual
from controller.decide.health.watch import Change, Watch
from controller.decide.messages.outbox import Message
from controller.decide.pi import UNDER_VOLTAGE_SINCE_START
from controller.engine.anew import MadeAnew
from controller.engine.clips import Clips
from controller.engine.daily import Daily
from controller.engine.facts import machine
from controller.engine.hub import Hub
from controller.engine.noting import note_in
from controller.engine.post import UNREADABLE, Post
from controller.engine.run import ShootRun
from controller.engine.shoots import Shoots
from controller.engine.wires import Wires
from controller.store import Store
from controller.store.files import write_atomic
from controller.words.clock import Clock
from controller.words.documents import ENDED, CameraNow, Frame, Now, Raised, ShootState
from controller.words.errors import StoreError
from controller.words.layout import FINDINGS

log = logging.getLogger(__name__)

LOOK_EVERY_S = 15.0
SHOOTS_KEPT = 4


class _Rig(Protocol):
    directory: Path
    clock: Clock
    store: Store
    hub: Hub
    anew: MadeAnew | None
    shoots: Shoots
    wires: Wires
    clips: Clips

    async def now(self) -> Now: ...

    def cameras(self) -> list[CameraNow]: ...

    def preview_path(self, frame: Frame) -> Path | None: ...


class Watching:
    """Of one rig. Files of the machine are looked for below `root`; `mono` is wall seconds that never step."""

    def __init__(
        self, rig: _Rig, post: Post, mono: Callable[[], float] = time.monotonic, root: Path = Path("/")
    ) -> None:
        self._rig, self._mono, self._root = rig, mono, root
        self.post = post
        self.daily = Daily(rig, post)
        self.watch = Watch()
        self._usual: dict[str, dict[str, Usual]] = {}  # shoot -> camera
        self._counts: dict[tuple[str, str], deque[tuple[int, int]]] = {}
        self._seen: dict[tuple[str, str], int] = {}
        self._throttled: int | None = None
        self._kept = b""
        self.unread: str | None = None  # why what stood could not be taken up

    @property
    def standing(self) -> list[Raised]:
        """Findings that stand, urgent ones first, then the oldest first."""
        return sorted(self.watch.raised.values(), key=lambda raised: (not raised.urgent, raised.since_utc))

    def open(self) -> None:
        """Take up what was known when the rig ended. What stood still stands until it is seen to be over."""
        self.post.open()
        path = self._rig.directory / FINDINGS
        if not path.exists():
            return
        try:
            kept = json.loads(path.read_bytes())
            raised = [Raised.model_validate(one) for one in kept["raised"]]
            self._usual = {
                str(shoot): {str(camera): Usual.from_document(days) for camera, days in cameras.items()}
                for shoot, cameras in kept["usual"].items()
            }
            self.watch = Watch({one.key: one for one in raised})
            self.daily.take_up(kept["daily"])
        except UNREADABLE as error:
            self.unread = f"{path} cannot be read, and what stood is found anew: {error!r}"

    async def close(self) -> None:
        await self._keep()
        await self.post.close()

    async def look(self) -> None:
        """One look: what changed goes into the log and to people."""
        now = await self._rig.now()
        readings = await self._readings(now)
        told = [self._named(sign, readings) for sign in signs(readings)]
        self._forget()
        self.watch, changes = self.watch.look(told, self._mono(), self._rig.clock.utc())
        for change in changes:
            await self._tell(change)
        await self.daily.look(now, self.standing)
        await self._keep()

    def _named(self, sign: Sign, readings: Readings) -> Sign:
        """Of several cameras each is named."""
        several = len(readings.cameras) > 1 and sign.camera is not None
        return replace(sign, what=f"{sign.camera}: {sign.what}") if several else sign

    # ---- looking

    async def _readings(self, now: Now) -> Readings:
        before = self._throttled
        is_pi, throttled, degrees = await asyncio.to_thread(self._machine)
        self._throttled = throttled
        dipped = before is not None and throttled is not None and throttled & ~before & UNDER_VOLTAGE_SINCE_START
        runs = {run.camera.id: run for run in self._rig.shoots.all_runs if run.shoot.state not in ENDED}
        unlogged = [run.book.trouble for run in runs.values() if run.book.trouble is not None]
        shoot, storage = now.shoot, now.storage
        failed = {shoot.id: shoot.cause or ""} if shoot is not None and shoot.state is ShootState.FAILED else {}
        return Readings(
            free_bytes=None if storage is None else storage.rig_free_bytes,
            hours_left=None if storage is None else storage.rig_hours_left,
            is_pi=is_pi,
            throttled=throttled,
            dipped=bool(dipped),
            temperature_c=degrees,
            clock=now.clock,
            failed=failed,
            unlogged=str(unlogged[0]) if unlogged else None,
            damaged=None if self._rig.store.damage is None else str(self._rig.store.damage),
            made_anew=self._made_anew(),
            wiring=tuple(self._rig.wires.troubles()) if self._rig.wires.wiring.wants_pins else None,
            places=tuple(now.places),
            places_trouble=now.places_trouble,
            film_trouble=None if (film := self._rig.clips.trouble) is None else film.what,
            film_remedy="" if film is None else film.remedy,
            cameras=tuple(self._camera(camera, runs.get(camera.id), now) for camera in self._rig.cameras()),
        )

    def _made_anew(self) -> str | None:
        anew = self._rig.anew
        return anew.what if anew is not None and anew.stands(self._rig.clock.utc()) else None

    def _machine(self) -> tuple[bool, int | None, float | None]:
        root = self._root
        is_pi = machine.is_pi(root)
        return is_pi, machine.throttled(root) if is_pi else None, machine.temperature_c(root)

    def _camera(self, camera: CameraNow, run: ShootRun | None, now: Now) -> CameraSeen:
        seen = CameraSeen(
            id=camera.id,
            connected=camera.connected,
            shooting=run is not None,
            trouble=camera.trouble,
            battery_percent=camera.battery_percent,
            room_frames=camera.card_free_frames,
        )
        if run is None:
            return seen
        shoot, key = run.shoot.id, (run.shoot.id, camera.id)
        missed, slots = self._lately(key, run)
        looks = list(run.reports.metering.looks)
        fresh = [look for look in looks if look.seq > self._seen.get(key, 0)]
        usual = self._usual.setdefault(shoot, {}).setdefault(camera.id, Usual())
        blur = (BLURRED, camera.id) in self.watch.raised
        for look in fresh:
            usual.take(look, blur)
            self._seen[key] = look.seq
        causes = [frame.cause for frame in run.book.lately_missed][-missed:] if missed else []
        shown = now.shoot is not None and now.shoot.id == shoot
        first = now.camera is not None and now.camera.id == camera.id
        return replace(
            seen,
            wanted_frames=now.frames_left if shown else None,
            card_hours_left=now.storage.card_hours_left if shown and first and now.storage is not None else None,
            missed=missed,
            slots=slots,
            cause=usual_cause(causes),
            unread=None if run.plan.files.fetch == "none" else run.reports.unread,
            blind=None if run.reports.blind is None else run.reports.blind.what,
            pictures=tuple(looks) if fresh else (),
            usual=usual.of(looks[-1]) if looks else None,
        )

    def _lately(self, key: tuple[str, str], run: ShootRun) -> tuple[int, int]:
        """Slots missed of the last LATELY or somewhat more, and how many those are."""
        counts = run.book.counts
        missed = counts.missed - run.book.off
        now = (counts.done + counts.lost + missed, missed)
        past = self._counts.setdefault(key, deque([now]))
        if now != past[-1]:
            past.append(now)
        while len(past) > 2 and now[0] - past[1][0] >= LATELY:
            past.popleft()
        return now[1] - past[0][1], now[0] - past[0][0]

    # ---- telling

    async def _tell(self, change: Change) -> None:
        finding, over = change.finding, change.over
        text = finding.line if over is None else f"over: {finding.check}: {over}"
        kind, key = ("raised", "cleared")[over is not None], f"{finding.check} ({finding.camera or 'rig'})"
        utc = self._rig.clock.utc()
        facts = {"check": finding.check, "urgent": finding.urgent, "since_utc": finding.since_utc}
        facts |= {"camera": finding.camera} if finding.camera else {}
        runs = (run for run in self._rig.shoots.runs.values() if run.shoot.state not in ENDED)
        level = logging.WARNING if over is None else logging.INFO
        await note_in(self._rig, (run.company.first.book for run in runs), kind, text, level=level, **facts)
        if over is None:
            self.post.put(Message("raised", key, finding.line, utc, finding.urgent))
        else:
            self.post.put(Message("cleared", key, over, utc))

    def _forget(self) -> None:
        """Of shoots that have ended only the last few are remembered."""
        ended = [shoot for shoot in self._usual if shoot not in self._rig.shoots.runs]
        for shoot in ended[:-SHOOTS_KEPT]:
            del self._usual[shoot]
        for known in (self._counts, self._seen):
            for key in [key for key in known if key[0] not in self._usual]:
                del known[key]

    async def _keep(self) -> None:
        """Write down what must not be forgotten, where that has changed."""
        usual = {shoot: {c: of.days for c, of in cameras.items()} for shoot, cameras in self._usual.items()}
        document = {
            "raised": [one.model_dump(mode="json") for one in self.watch.raised.values()],
            "usual": usual,
            "daily": self.daily.document(),
        }
        content = json.dumps(document, ensure_ascii=False).encode()
        if content == self._kept:
            return
        try:
            await asyncio.to_thread(write_atomic, self._rig.directory / FINDINGS, content)
            self._kept = content
        except StoreError as error:
            log.warning("findings are not written down: %s", error)
