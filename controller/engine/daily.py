"""The digest: gathered once a day, with the day's last good picture where that is wished."""

from __future__ import annotations

import asyncio
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from controller.decide.messages.digest import Day, due, text
from controller.decide.messages.outbox import Message
from controller.engine.post import Post
from controller.engine.shoots import Shoots
from controller.store import Store
from controller.store.frame_pages import Page
from controller.words.clock import Clock
from controller.words.documents import ENDED, CameraNow, Frame, FrameCounts, Now, Raised, ShootState
from controller.words.errors import DuskhandError

_LOOKED_BACK = 200
_EMPTY = 0.5  # of its pixels black or blown out: no good picture


class _Rig(Protocol):
    directory: Path
    clock: Clock
    store: Store
    shoots: Shoots

    def cameras(self) -> list[CameraNow]: ...

    def preview_path(self, frame: Frame) -> Path | None: ...


class Daily:
    """Of one rig."""

    def __init__(self, rig: _Rig, post: Post) -> None:
        self._rig, self._post = rig, post
        self._last_utc: float | None = None
        self._shoot: str | None = None
        self._before = FrameCounts()

    def document(self) -> dict[str, Any]:
        """What must not be forgotten."""
        return {"last_utc": self._last_utc, "shoot": self._shoot, "counts": self._before.model_dump()}

    def take_up(self, kept: dict[str, Any]) -> None:
        """As it was written down."""
        self._last_utc, self._shoot = kept["last_utc"], kept["shoot"]
        self._before = FrameCounts.model_validate(kept["counts"])

    async def look(self, now: Now, standing: list[Raised]) -> None:
        """Put the digest among the messages, where it is due."""
        rules = self._post.rules
        if rules is not None and rules.timezone is None:
            self._post.zone = self._zone(now)
        if rules is None or rules.digest_at is None:
            return
        utc = self._rig.clock.utc()
        if self._last_utc is None or self._last_utc > utc:  # never yet, or by a clock that was wrong
            self._last_utc = utc
        if not due(rules.digest_at, self._post.zone, self._last_utc, utc):
            return
        self._last_utc = utc
        picture = await self._picture(now) if rules.picture else None
        self._post.put(
            Message("digest", "digest", text(self._day(now, standing), self._post.zone), utc, False, 1, picture)
        )

    def _zone(self, now: Now) -> Any:
        """The shoot's, or else the machine's own."""
        name = None if now.shoot is None else now.shoot.plan.get("site", {}).get("timezone")
        return ZoneInfo(name) if name else datetime.fromtimestamp(now.utc).astimezone().tzinfo

    def _day(self, now: Now, standing: list[Raised]) -> Day:
        shoot, storage = now.shoot, now.storage
        counts = FrameCounts() if shoot is None else shoot.counts
        before = self._before if shoot is not None and shoot.id == self._shoot else FrameCounts()
        self._shoot, self._before = None if shoot is None else shoot.id, counts
        alive = shoot is not None and shoot.state not in ENDED
        waits = shoot is not None and shoot.state in (ShootState.WAITING, ShootState.CHECKING)
        unsaid, dropped = self._post.take_counts()
        cameras = self._rig.cameras()
        return Day(
            done=counts.done - before.done,
            missed=counts.missed - before.missed,
            lost=counts.lost - before.lost,
            shoot=shoot.id if alive and shoot is not None else None,
            state=shoot.state.value if shoot is not None else None,
            free_bytes=None if storage is None else storage.rig_free_bytes,
            hours_left=None if storage is None else storage.rig_hours_left,
            card_frames=None if now.camera is None else now.camera.card_free_frames,
            batteries=tuple((c.id, c.battery_percent) for c in cameras if c.battery_percent is not None),
            next_utc=now.next_release_utc if waits else None,
            end_utc=now.end_utc,
            standing=tuple(one.line for one in standing),
            unsaid=unsaid,
            dropped=dropped,
        )

    async def _picture(self, now: Now) -> str | None:
        """The newest preview that shows something, relative to the rig's directory."""
        if now.shoot is None:
            return None
        try:
            frames = await self._rig.store.page(now.shoot.id, Page(newest=True, previews=True, limit=_LOOKED_BACK))
        except DuskhandError:
            return None
        for frame in frames:
            shows = (frame.black or 0.0) < _EMPTY and (frame.clipped or 0.0) < _EMPTY
            path = self._rig.preview_path(frame) if shows else None
            if path is not None and await asyncio.to_thread(path.is_file):
                return str(path.relative_to(self._rig.directory))
        return None
