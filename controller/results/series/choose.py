"""Which frames of months a film shows. Rows are read page by page; what is kept of each does not hold the row."""

from __future__ import annotations

import os
from array import array
from collections import Counter
from collections.abc import AsyncIterator, Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from controller.results.cameras import main_camera, only
from controller.results.clip import raw
from controller.results.intervals import EachInterval
from controller.results.series.hours import best_of_each, hour_of, score
from controller.results.series.judge import LEAST_DAYS, Table, judge
from controller.results.series.measure import Measures, measure
from controller.results.series.same_sun import OneADay, Without, told
from controller.results.series.wanted import HourBest, SameSun, Wanted
from controller.words.documents import Frame, FrameState, Shoot
from controller.words.errors import BadInput
from controller.words.layout import JPEG, preview_path

Rows = Callable[[Shoot], AsyncIterator[list[Frame]]]
_SHOWN = JPEG | raw.SUFFIXES
_NO_PICTURE = frozenset({FrameState.DUE, FrameState.MISSED, FrameState.LOST})


@dataclass(slots=True)
class Choice:
    """Frames by time, and for people what is not among them."""

    frames: list[Frame]
    remarks: list[str] = field(default_factory=list)


@dataclass(slots=True)
class _Seen:
    """What is kept of each measured frame."""

    table: Table = field(default_factory=Table)
    shoots: array[int] = field(default_factory=lambda: array("i"))  # number among those asked for
    seqs: array[int] = field(default_factory=lambda: array("q"))
    hours: array[int] = field(default_factory=lambda: array("i"))
    scores: array[float] = field(default_factory=lambda: array("f"))
    unreadable: int = 0


async def choose(
    wanted: Wanted,
    shoots: Sequence[Shoot],
    rows: Rows,
    directory: Path,
    camera: str | None,
    progress: Callable[[int], None] = lambda done: None,
) -> Choice:
    """The frames of `shoots` that `wanted` tells of, all of one camera; `progress` counts rows.

    Raises BadInput: no-pictures where there is none, no-such-camera.
    """
    zone = ZoneInfo(shoots[0].plan.get("site", {}).get("timezone", "UTC"))
    too: list[str] = []
    if camera is None:
        first = await _first(shoots, rows)
        camera = main_camera(first)
        too = only(camera, (frame.camera for frame in first))
    choosing = _Choosing(wanted, shoots, rows, directory, camera, zone, progress)
    choice = await (choosing.one_a_day() if isinstance(wanted.series, SameSun) else choosing.measured())
    if not choice.frames:
        why = f" ({choice.remarks[0]})" if choice.remarks else ""
        remedy = "Ask for other days, a wider within, or fewer words of skip"
        raise BadInput("no-pictures", f"no frame is left for the film{why}", shoots[0].id, remedy)
    choice.frames.sort(key=lambda frame: frame.due_utc)
    choice.remarks[:0] = too
    return choice


async def _first(shoots: Sequence[Shoot], rows: Rows) -> list[Frame]:
    """Frames of each shoot, by which a camera is chosen."""
    first: list[Frame] = []
    for shoot in shoots:
        async for page in rows(shoot):
            first += page
            break
    return first


class _Choosing:
    def __init__(
        self,
        wanted: Wanted,
        shoots: Sequence[Shoot],
        rows: Rows,
        directory: Path,
        camera: str,
        zone: ZoneInfo,
        progress: Callable[[int], None],
    ) -> None:
        self._wanted, self._shoots, self._rows, self._directory = wanted, shoots, rows, directory
        self._camera, self._zone, self._progress = camera, zone, progress
        self._done = 0

    async def one_a_day(self) -> Choice:
        one = OneADay(self._wanted, self._zone, lambda frame: self._picture(frame) is not None)
        async for _, frame in self._each():
            one.take(frame)
        frames, without = one.chosen()
        if self._wanted.skip:
            frames, skipped = self._fit(frames)
            without = sorted([*without, *skipped], key=lambda each: each.day)
        return Choice(frames, told(without))

    def _fit(self, frames: list[Frame]) -> tuple[list[Frame], list[Without]]:
        """Those of one a day that are fit to be shown."""
        seen, kept, without = _Seen(), [], []
        with ThreadPoolExecutor(max(1, os.cpu_count() or 1)) as pool:
            for frame, came in zip(frames, pool.map(self._measure, frames), strict=True):
                if came is None:
                    without.append(Without(self._day(frame), "its picture cannot be read"))
                else:
                    self._take(seen, 0, frame, came)
                    kept.append(frame)
        words = judge(seen.table)
        for frame, word in zip(kept, words, strict=True):
            if word in self._wanted.skip:
                without.append(Without(self._day(frame), str(word)))
        return [f for f, word in zip(kept, words, strict=True) if word not in self._wanted.skip], without

    async def measured(self) -> Choice:
        """Every frame, or the best of each hour, without those that are to be skipped."""
        if self._wanted.series is None and not self._wanted.skip:
            covers = self._wanted.covers  # those that were missed too, so that the film tells its gaps
            return Choice([frame async for _, frame in self._each() if covers(self._day(frame))])
        seen = await self._measure_all()
        words = judge(seen.table) if self._wanted.skip else [None for _ in seen.seqs]
        fit = [word not in self._wanted.skip for word in words]
        places: Sequence[int] = [place for place, good in enumerate(fit) if good]
        if isinstance(self._wanted.series, HourBest):
            places = best_of_each(seen.hours, seen.scores, fit)
        keys = {(seen.shoots[place], seen.seqs[place]) for place in places}
        frames = [frame async for number, frame in self._each() if (number, frame.seq) in keys]
        return Choice(frames, self._remarks(seen, words, len(keys)))

    async def _measure_all(self) -> _Seen:
        seen = _Seen()
        batch: list[tuple[int, Frame]] = []
        with ThreadPoolExecutor(max(1, os.cpu_count() or 1)) as pool:

            def work() -> None:
                for (number, frame), came in zip(batch, pool.map(self._measure, [f for _, f in batch]), strict=True):
                    if came is None:
                        seen.unreadable += 1
                    else:
                        self._take(seen, number, frame, came)
                batch.clear()

            async for number, frame in self._each():
                if self._covered(frame) and self._picture(frame) is not None:
                    batch.append((number, frame))
                    if len(batch) >= 64:
                        work()
            work()
        return seen

    def _remarks(self, seen: _Seen, words: Sequence[str | None], shown: int) -> list[str]:
        lines = []
        counts = Counter(word for word in words if word in self._wanted.skip)
        for word, count in sorted(counts.items(), key=lambda each: -each[1]):
            lines.append(f"{count} of {len(words)} frames left out: {word}")
        if isinstance(self._wanted.series, HourBest):
            whole = len(set(seen.hours))
            lines.append(f"the best frame of {shown} of {whole} hours")
        if seen.unreadable:
            lines.append(f"{seen.unreadable} pictures cannot be read; left out")
        if self._wanted.skip - {"night"} and len(set(seen.table.days.tolist())) < LEAST_DAYS:
            lines.append(f"fog and drops are told from {LEAST_DAYS} days on: nothing is known to be usual before")
        return lines

    async def _each(self) -> AsyncIterator[tuple[int, Frame]]:
        """Rows of the camera, of brackets one of each, with the number of their shoot."""
        found: list[Frame] = []
        for number, shoot in enumerate(self._shoots):
            each = EachInterval(shoot, found.append)
            async for page in self._rows(shoot):
                for frame in page:
                    if frame.camera == self._camera:
                        each(frame)
                for frame in found:
                    yield number, frame
                found.clear()
                self._done += len(page)
                self._progress(self._done)
            each.end()
            for frame in found:
                yield number, frame
            found.clear()

    def _take(self, seen: _Seen, number: int, frame: Frame, came: Measures) -> None:
        local = datetime.fromtimestamp(frame.due_utc, self._zone)
        seen.table.add(local.toordinal(), came)
        seen.shoots.append(number)
        seen.seqs.append(frame.seq)
        seen.hours.append(hour_of(local))
        seen.scores.append(score(came))

    def _measure(self, frame: Frame) -> Measures | None:
        path = self._picture(frame)
        return None if path is None else measure(path, frame.exposure_ev)

    def _picture(self, frame: Frame) -> Path | None:
        if frame.state in _NO_PICTURE:
            return None
        if frame.preview:
            path = self._directory / preview_path(frame.shoot, frame.seq, frame.camera)
            if path.is_file():
                return path
        if frame.local_file is not None and Path(frame.local_file).suffix.lower() in _SHOWN:
            path = self._directory / frame.local_file
            return path if path.is_file() else None
        return None

    def _covered(self, frame: Frame) -> bool:
        return frame.state not in _NO_PICTURE and self._wanted.covers(self._day(frame))

    def _day(self, frame: Frame) -> date:
        return datetime.fromtimestamp(frame.due_utc, self._zone).date()
