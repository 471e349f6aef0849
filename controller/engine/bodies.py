"""What bodies are seen to do while they shoot: how large their frames are, and how long they take over them."""

from __future__ import annotations

import logging
from collections import deque
from statistics import fmean
from typing import TypeVar

from controller.camera.messages import Fetched, Opened, Preview, Report, Settled, Status, Written
from controller.decide.checks.card_room import COUNTS_TO
from controller.decide.exposure import Body
from controller.engine.measuring import Measuring
from controller.store import Store
from controller.words.bodies import Basis, BodySeen, kinds_of
from controller.words.errors import StoreError

log = logging.getLogger(__name__)

T = TypeVar("T")

_KEPT = 20  # frames that a mean is taken of, and slots that are remembered
_LEAST = 10  # frames between two looks at the card's room: it counts whole blocks, and a file may be on its way


def body_of(opened: Opened) -> Body:
    """What a camera can set, for what decides."""
    return Body(tuple(opened.shutter_s), tuple(opened.aperture), tuple(opened.iso), opened.bulb)


class Watch:
    """One camera's body. Nothing here waits or fails: `heard` is called with every report."""

    def __init__(self, opened: Opened) -> None:
        self.key = opened.key
        self._status: Opened | Status = opened
        self._utc = 0.0
        self._written: dict[int, list[str]] = {}
        self._fetched: dict[int, dict[str, int]] = {}
        self._sizes: deque[int] = deque(maxlen=_KEPT)
        self._previews: deque[int] = deque(maxlen=_KEPT)
        self.measuring = Measuring()
        self._room: tuple[int, int] | None = None  # free bytes when counting began, and frames written since
        self._by_room: tuple[float, int] | None = None

    def is_of(self, opened: Opened) -> bool:
        """Whether that is the same body."""
        return self.key == opened.key

    def heard(self, report: Report, utc: float, rate: float) -> None:
        """Take in one report. `rate` is how many times faster than the wall's the rig's clock runs."""
        self._utc = utc
        if rate == 1:
            self.measuring.heard(report)
        match report:
            case Opened() | Status():
                self._status = report
                self._look_at_room(report.free_bytes)
            case Settled():  # a number that is known already is of another shoot, which began to count anew
                self._written.pop(report.seq, None)
                self._fetched.pop(report.seq, None)
            case Written() if report.camera_files:
                self._on_card(report)
            case Fetched():
                files = self._fetched.setdefault(report.seq, {})
                files[report.camera_file] = report.size
                _remember(self._fetched, report.seq, files)
                if len(files) == len(self._written.get(report.seq, ())):
                    self._sizes.append(sum(files.values()))
            case Preview():
                self._previews.append(len(report.jpeg))

    def seen(self) -> BodySeen:
        """What is known of the body."""
        size, basis, frames = self._size()
        model, serial = self.key
        names = next(reversed(self._written.values()), [])
        return BodySeen(
            model=model,
            serial=serial,
            seen_utc=self._utc,
            files=kinds_of(names) or None,
            frame_bytes=size,
            basis=basis,
            frames=frames,
            preview_bytes=fmean(self._previews) if self._previews else None,
            free_bytes=self._status.free_bytes,
            free_frames=self._status.free_frames,
            battery_percent=self._status.battery_percent,
        )

    def frame_bytes(self) -> int | None:
        """What a frame was seen to take on the card, None where too few were: what the body itself counts by is a
        guess at first, which may be off by much."""
        size, basis, _ = self._size()
        return None if size is None or basis == "the body's own count" else round(size)

    def _on_card(self, report: Written) -> None:
        known = report.seq in self._written
        _remember(self._written, report.seq, report.camera_files)
        if known:  # the second file of a pair
            return
        if self._room is not None:
            self._room = (self._room[0], self._room[1] + 1)

    def _look_at_room(self, free_bytes: int | None) -> None:
        if free_bytes is None or self._room is None or free_bytes > self._room[0]:
            self._room = None if free_bytes is None else (free_bytes, 0)
            return
        before, frames = self._room
        if frames >= _LEAST and free_bytes < before:
            self._by_room = ((before - free_bytes) / frames, frames)
            if frames >= _KEPT * _LEAST:
                self._room = (free_bytes, 0)

    def _size(self) -> tuple[float | None, Basis | None, int | None]:
        if self._sizes:
            return fmean(self._sizes), "fetched files", len(self._sizes)
        if self._by_room is not None:
            return self._by_room[0], "room on the card", self._by_room[1]
        status = self._status
        if status.free_bytes and status.free_frames and status.free_frames < COUNTS_TO:
            return status.free_bytes / status.free_frames, "the body's own count", None
        return None, None, None


class Bodies:
    """The bodies of a rig, by camera."""

    def __init__(self) -> None:
        self._watches: dict[str, Watch] = {}
        self._left: list[Watch] = []  # of bodies that others took the place of
        self._kept: dict[tuple[str, str], BodySeen] = {}

    def heard(self, camera: str, report: Report, utc: float, rate: float) -> None:
        """Take in a report of a camera."""
        watch = self._watches.get(camera)
        if isinstance(report, Opened) and (watch is None or not watch.is_of(report)):
            if watch is not None:
                self._left.append(watch)
            watch = self._watches[camera] = Watch(report)
        if watch is not None:
            watch.heard(report, utc, rate)

    def frame_bytes(self, camera: str) -> int | None:
        """What a frame of a camera takes, as far as that was seen since the rig was started."""
        watch = self._watches.get(camera)
        return None if watch is None else watch.frame_bytes()

    def seen(self) -> list[BodySeen]:
        """Every body that was there since the rig was started."""
        return [watch.seen() for watch in self._watches.values()]

    async def keep(self, store: Store) -> None:
        """Write down what is new; where the log cannot be written, at the next turn."""
        for watch in [*self._left, *self._watches.values()]:
            body, times = watch.seen(), watch.measuring.taken()
            try:
                if self._kept.get(body.key) != body:
                    await store.put_body(body)
                if times:
                    await store.add_times(body.model, body.serial, times)
            except StoreError as error:
                watch.measuring.put_back(times)
                log.warning("what %s does was not kept: %s", body.model, error)
            else:
                self._kept[body.key] = body
                if watch in self._left:
                    self._left.remove(watch)

    async def known(self, store: Store) -> list[BodySeen]:
        """All that is known of bodies, those that are there first, then as they were seen last. Raises StoreError."""
        if any(watch.measuring.news for watch in [*self._left, *self._watches.values()]):
            await self.keep(store)
        kept = {body.key: body for body in await store.bodies()}
        there = []
        for live in self.seen():
            before, fresh = kept.pop(live.key, live), live.model_dump(exclude_defaults=True)
            if live.frame_bytes is not None:
                fresh["frames"] = live.frames  # of the same figure
            there.append(before.model_copy(update=fresh))
        return [*there, *kept.values()]


def _remember(known: dict[int, T], seq: int, value: T) -> None:
    known.pop(seq, None)
    known[seq] = value
    while len(known) > _KEPT:
        del known[next(iter(known))]
