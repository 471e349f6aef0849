"""Films that people ask for: whether they can be made, and what is written down of them."""

from __future__ import annotations

import asyncio
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

from controller.engine.clip_windows import MOST_FPS
from controller.results.series.asked import FramesAsked
from controller.store import Store, clips
from controller.words.clips import FETCH_THEM, SEE_REPORT, ClipKind, ClipRecord, ClipState
from controller.words.clock import Clock
from controller.words.documents import Shoot
from controller.words.errors import BadInput
from controller.words.site_time import zone_of

EVERY = FramesAsked()
WORKED_FROM = {"shoot", "camera", "after_seq", "last_seq", "options", "asked"}
"""Of a record: what the process that makes it is told."""


class Checker(Protocol):
    """See `controller.aside.clip_check`."""

    async def answer(self, **task: Any) -> dict[str, Any]: ...


class _Rig(Protocol):
    @property
    def directory(self) -> Path: ...
    @property
    def clock(self) -> Clock: ...
    @property
    def store(self) -> Store: ...


class ClipAsks:
    """Of one rig."""

    def __init__(self, rig: _Rig, checker: Checker) -> None:
        self._rig, self._checker = rig, checker

    async def record(self, shoot: str, options: dict[str, Any], asked: FramesAsked) -> ClipRecord:
        """Of a film to come, which has no name yet. Raises NotFound, BadInput, StoreError."""
        store, camera = self._rig.store, options.get("camera")
        names = list(dict.fromkeys((shoot, *asked.shoots)))
        asked = asked.model_copy(update={"shoots": tuple(names[1:])})
        shoots = [await store.shoot(name) for name in names]
        await self._refuse_empty(shoots, camera, options.get("source", "auto"))
        record = ClipRecord(
            shoot=shoot,
            name="",
            kind=ClipKind.MADE,
            camera=camera,
            shows=str(asked) or None,
            state=ClipState.WAITING,
            options={"fps": min(shoots[0].fps, MOST_FPS), **options},
            asked=asked.model_dump(mode="json", exclude_defaults=True),
        )
        if not asked.plain or "scene_s_per_s" in options:
            record.pictures = await self._pictures(record)
        return record

    async def _pictures(self, record: ClipRecord) -> int | None:
        task = record.model_dump(mode="json", include=WORKED_FROM)
        try:
            came = await self._checker.answer(
                **task, directory=str(self._rig.directory), since_utc=record.since_utc, until_utc=record.until_utc
            )
        except BadInput as error:
            if error.code != "too-long":
                raise
            return None  # of so long a log it is told once it is made
        return int(came["pictures"])

    async def name(self, shoot: str) -> str:
        """By the place's clock; one that no film of the shoot has, of those that are written down."""
        site = (await self._rig.store.shoot(shoot)).plan.get("site", {})
        now = datetime.fromtimestamp(self._rig.clock.utc(), zone_of(site.get("timezone")))
        stem, number = f"made-{now:%Y-%m-%d-%H%M%S}", 1
        taken = {record.name for record in await asyncio.to_thread(clips.records, self._rig.directory, shoot)}
        while (name := f"{stem}{'' if number == 1 else f'-{number}'}.mp4") in taken:
            number += 1
        return name

    async def _refuse_empty(self, shoots: list[Shoot], camera: str | None, source: str) -> None:
        """Raises BadInput where the log tells already that there is nothing to make a film of."""
        store, names = self._rig.store, [shoot.id for shoot in shoots]
        where = ", ".join(names[:3])
        if camera is not None and not [name for name in names if await store.last_frame(name, camera) is not None]:
            remedy = "Name one that has frames, or leave it out"
            raise BadInput("no-such-camera", f"the shoot has no frame of {camera}", "camera", remedy)
        if [name for name in names if await store.has_pictures(name, camera, source)]:
            return
        if not [name for name in names if await store.last_frame(name, camera) is not None]:
            remedy = "Wait for the first one; the list of shoots tells how each stands"
            raise BadInput("no-pictures", "no frame has been released yet", where, remedy)
        if source != "auto" and [name for name in names if await store.has_pictures(name, camera)]:
            what = f"no frame has a {'JPEG' if source == 'fetched' else 'RAW file'} on the rig"
            raise BadInput("no-pictures", what, "source", "Choose another source, or leave it out")
        remedy = FETCH_THEM if any(shoot.counts.done for shoot in shoots) else SEE_REPORT
        raise BadInput("no-pictures", "no frame has a picture on the rig", where, remedy)
