"""Deletes what plans let go, from the rig and from cards, after it was read back elsewhere a moment before.

Whether a frame may go is decided in `controller.decide.retention` alone. What goes is marked and noted before, so that
a crash in between leaves a file too many, and never a log that promises a file that is not there.
"""

from __future__ import annotations

import asyncio
import logging
import math
import time
from collections.abc import AsyncIterator, Callable, Sequence
from itertools import zip_longest
from pathlib import Path
from typing import Any, Protocol

from controller.camera.link import CameraLink
from controller.decide.retention import (
    CARD_KEEPS,
    DAY_S,
    ONE_OTHER,
    RIG,
    TWO,
    Held,
    ReadBack,
    Rule,
    card_due,
    card_may_go,
    needed_for_rig,
    rig_due,
    rig_may_go,
)
from controller.engine.copying import Copying, files_of, summed
from controller.engine.hub import Hub
from controller.engine.noting import note
from controller.store import Store
from controller.store.copy_log import Where
from controller.words.clock import Clock
from controller.words.documents import Frame, Note
from controller.words.errors import CameraError, CopyError
from controller.words.synced import sync_directory

log = logging.getLogger(__name__)

AT_ONCE = 20
"""Frames of one shoot in one look, so that what was read back is fresh when it is decided on."""


MOST_LOOKED = 500
"""Frames of one shoot that one look goes through. Those that may not go may be all of a season, as where two copies are
wanted and there is one place."""

LONG_S, SHARE = 1.0, 0.01
"""Where reading a shoot's log once through took longer than the first, a rest follows, so that it takes no more than
this share of the time."""


class _Way:
    """Through the frames of a shoot, look after look. `after` is the slot that was come to, `before` the one before."""

    def __init__(self) -> None:
        self.after = self.before = 0
        self.took_s = 0.0
        self.rests_until_mono = -math.inf

    def again(self) -> None:
        """It has come to the end."""
        rest_s = self.took_s / SHARE if self.took_s > LONG_S else 0.0
        self.after = self.before = 0
        self.took_s, self.rests_until_mono = 0.0, time.monotonic() + rest_s


class _Rig(Protocol):
    directory: Path
    clock: Clock
    store: Store
    hub: Hub


class Freeing:
    """`look` is a chore; `clock_right` tells whether the rig's time can be believed."""

    def __init__(
        self, rig: _Rig, copying: Copying, links: Sequence[CameraLink], clock_right: Callable[[], bool]
    ) -> None:
        self._rig, self._copying, self._links, self._clock_right = rig, copying, links, clock_right
        self._refused: set[int] = set()  # frames that a card did not let go; not asked again until the rig is restarted
        self._ways: dict[tuple[str, Where], _Way] = {}

    async def look(self) -> None:
        """Delete what may go now. Raises StoreError."""
        if not self._copying.places:
            return
        for shoot, table in (await self._rig.store.copies.ruled_shoots()).items():
            rule = rule_of(table)
            try:
                if rule.keep_days is not None:
                    await self._free_rig(shoot, rule)
                if rule.free_card:
                    await self._free_card(shoot, rule)
            except CopyError as error:  # told where copies are made; nothing goes meanwhile
                log.info("%s: nothing is deleted now: %s", shoot, error)
                for way in self._ways.values():
                    way.after = way.before  # the frame that could not be read back is the next one again

    # ---- from the rig

    async def _free_rig(self, shoot: str, rule: Rule) -> None:
        assert rule.keep_days is not None
        before_utc = self._rig.clock.utc() - rule.keep_days * DAY_S
        read: list[tuple[Frame, Held, list[ReadBack]]] = []
        async for frame in self._frames(shoot, "rig", before_utc):
            held = await self._held(frame)
            if not rig_due(rule, held, self._rig.clock.utc(), clock_right=self._clock_right()):
                continue
            if back := await self._read_back(frame, needed_for_rig(rule, held)):
                read.append((frame, held, back))
            if len(read) == AT_ONCE:
                break
        utc, mono, right = self._rig.clock.utc(), time.monotonic(), self._clock_right()
        going = [
            frame
            for frame, held, back in read
            if rig_may_go(rule, held, back, now_utc=utc, now_mono=mono, clock_right=right)
        ]
        if not going:
            return
        await self._say("rig", shoot, going, f"after {rule.keep_days:g} days, read back in their second places")
        for frame in going:
            try:
                await asyncio.to_thread(self._delete, frame)
            except OSError as error:
                assert frame.id is not None
                await self._rig.store.copies.not_freed(frame.id, "rig")
                text = f"frame {frame.seq} could not be deleted from the rig: {error.strerror or error}"
                await note(self._rig, "not-freed", text, shoot=shoot, seq=frame.seq)

    def _delete(self, frame: Frame) -> None:
        for file in files_of(frame):
            path = self._rig.directory / str(file["name"])
            path.unlink(missing_ok=True)
            sync_directory(path.parent)

    # ---- from the card

    async def _free_card(self, shoot: str, rule: Rule) -> None:
        asked = 0
        async for frame in self._frames(shoot, "card", math.inf):
            link = next((link for link in self._links if link.id == frame.camera and link.opened is not None), None)
            if link is None or frame.id in self._refused or not card_due(rule, held := await self._held(frame)):
                continue
            back = await self._read_back(frame, TWO - held.on_rig)
            if card_may_go(rule, held, back, now_mono=time.monotonic()):
                await self._erase(link, shoot, frame, [each.place for each in back if each.whole])
            asked += bool(back)
            if asked == AT_ONCE:
                break

    async def _erase(self, link: CameraLink, shoot: str, frame: Frame, places: list[str]) -> None:
        """Both files of a pair, each only where the card has what was copied."""
        assert frame.id is not None
        await self._say("card", shoot, [frame], f"read back on {' and '.join(sorted(set(places)))}")
        refusal, deleted = None, 0
        on_card = [path for path in (frame.camera_file, frame.companion_file) if path is not None]
        try:
            for path, file in zip(on_card, files_of(frame), strict=True):
                answer = await link.erase(path, str(file["sha256"]))
                if answer.refusal:
                    refusal = answer
                    break
                deleted += 1
        except CameraError as error:
            if not deleted:
                await self._rig.store.copies.not_freed(frame.id, "card")
            log.info("%s: frame %d stays on the card: %s", shoot, frame.seq, error)
            return
        if refusal is None:
            return
        self._refused.add(frame.id)
        if not deleted and not refusal.gone:
            await self._rig.store.copies.not_freed(frame.id, "card")
        what = "was not on the card any more" if refusal.gone else f"stays on the card: {refusal.refusal}"
        await note(self._rig, "not-freed", f"frame {frame.seq} {what}", shoot=shoot, seq=frame.seq)

    # ---- what is known

    async def _frames(self, shoot: str, where: Where, before_utc: float) -> AsyncIterator[Frame]:
        """The next frames on the way through the shoot's log; its first ones again once it has come to the end."""
        way = self._ways.setdefault((shoot, where), _Way())
        left = MOST_LOOKED
        if time.monotonic() < way.rests_until_mono:
            return
        while left > 0:
            begun = time.monotonic()
            found = await self._rig.store.copies.fetched_frames(
                shoot, where, before_utc=before_utc, copies=ONE_OTHER, after=way.after, limit=AT_ONCE
            )
            way.took_s += time.monotonic() - begun  # and not what is done with them: a slow place is no reason to rest
            if len(found) == AT_ONCE and found[0].seq < found[-1].seq:  # cameras of a slot stay together
                found = [frame for frame in found if frame.seq < found[-1].seq]
            for frame, next_one in zip_longest(found, found[1:]):
                whole = next_one is None or next_one.seq > frame.seq
                way.before, way.after, left = way.after, frame.seq - (not whole), left - 1
                yield frame
            if not found:
                break
        if left > 0:
            way.again()

    async def _held(self, frame: Frame) -> Held:
        on_card = frame.camera_file is not None and frame.card_freed_utc is None
        return Held(
            taken_utc=frame.at_utc,
            fetched=summed(frame),
            on_rig=frame.rig_freed_utc is None,
            on_card=on_card,
            newer_on_card=await self._rig.store.copies.newer_on_card(frame, CARD_KEEPS) if on_card else 0,
        )

    async def _read_back(self, frame: Frame, needed: int) -> list[ReadBack]:
        """The frame in so many places and on the rig; none where it is in fewer. What is not there waits again."""
        assert frame.id is not None
        places = self._copying.apart(await self._rig.store.copies.verified_in(frame.id))
        if len(places) < needed:
            return []
        found: list[ReadBack] = []
        for name, place in places.items():
            looked = await place.look(frame)
            at_mono = time.monotonic()
            if not looked.whole:
                await self._rig.store.copies.not_there(frame.id, name)
                text = f"the copy of frame {frame.seq} on {name} is gone or damaged: it is copied again"
                await note(self._rig, "copy-lost", text, shoot=frame.shoot, seq=frame.seq, place=name)
                continue
            found.append(ReadBack(looked.where, True, looked.elsewhere, at_mono))
            if not any(each.place == RIG for each in found):
                found.append(ReadBack(RIG, looked.on_rig, False, at_mono))
            if len({each.place for each in found if each.elsewhere}) >= needed:
                break
        return found

    async def _say(self, where: Where, shoot: str, frames: Sequence[Frame], why: str) -> None:
        """Mark them, with a note that names each, in one transaction before anything is deleted."""
        seqs = [frame.seq for frame in frames]
        cameras = sorted({frame.camera for frame in frames})
        which = f"frame {seqs[0]}" if len(seqs) == 1 else f"{len(seqs)} frames, {min(seqs)} to {max(seqs)}"
        text = f"{which}: deleted from the {where}, {why}"
        facts = {"seqs": seqs, "cameras": cameras, "bytes": sum(frame.bytes or 0 for frame in frames)}
        told = Note(utc=self._rig.clock.utc(), shoot=shoot, kind=f"{where}-freed", text=text, facts=facts)
        ids = [frame.id for frame in frames if frame.id is not None]
        self._rig.hub.publish("note", await self._rig.store.copies.free(ids, where, told))
        log.info("%s: %s", shoot, text)


def rule_of(table: dict[str, Any]) -> Rule:
    """What a shoot's own plan allows, from its table `files`; what is not understood allows nothing."""
    words = str(table.get("keep", "all")).split()
    days = float(words[0]) if len(words) == 2 and words[0].isdecimal() and words[1] in ("day", "days") else None
    return Rule(days, table.get("free_card") == "after two copies")
