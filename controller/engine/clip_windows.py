"""Windows as they are shot, for films of them: looked at from beside, so that no shoot ever waits for a film."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from controller.engine.run import ShootRun
from controller.words.clips import ClipKind, ClipRecord, ClipState
from controller.words.documents import ENDED
from controller.words.layout import FIRST_CAMERA

_SAME_S = 1.0
MOST_FPS = 120.0
SMALL_EDGE = 640
"""Pixels of a small film's longer side."""

Key = tuple[str, str]


@dataclass(slots=True)
class _UnderWay:
    """A window and its records; `begun`: this start of the rig has seen slots of it."""

    start_utc: float
    records: list[ClipRecord]
    stepped_mono: float
    begun: bool = False


class ClipWindows:
    """`look` tells which records are new, or complete since their window is over."""

    def __init__(self) -> None:
        self._under: dict[Key, _UnderWay] = {}
        self._last_seq: dict[Key, int] = {}

    def take_up(self, records: Iterable[ClipRecord]) -> None:
        """Those whose window was under way when the rig ended."""
        for record in records:
            if record.state is ClipState.SHOOTING and record.since_utc is not None and record.camera is not None:
                key = (record.shoot, record.camera)
                under = self._under.setdefault(key, _UnderWay(record.since_utc, [], float("-inf")))
                under.records.append(record)

    def look(self, runs: Iterable[ShootRun]) -> list[ClipRecord]:
        """Look at every shoot that has not ended."""
        changed: list[ClipRecord] = []
        seen: set[Key] = set()
        for run in runs:
            if run.plan.clip.daily or run.plan.clip.preview:
                key = (run.shoot.id, run.camera.id)
                seen.add(key)
                changed += self._look_at(key, run)
        for key in [key for key in self._under if key not in seen]:  # the shoot has ended, and nothing comes after
            changed += self._over(key, None)
        return changed

    def _look_at(self, key: Key, run: ShootRun) -> list[ClipRecord]:
        changed: list[ClipRecord] = []
        under, window, progress = self._under.get(key), run.window, run.slots.progress
        shooting = window is not None and progress is not None and run.shoot.state not in ENDED
        if under is not None and window is not None:
            if run.stepped_mono != under.stepped_mono:  # the same window stands elsewhere on the wall's clock
                under.start_utc, under.stepped_mono = window.start_utc, run.stepped_mono
            other = abs(window.start_utc - under.start_utc) > _SAME_S
            if other:
                for record in under.records:
                    record.until_utc = min(record.until_utc or window.start_utc, window.start_utc)
            if other or (under.begun and not shooting) or run.shoot.state in ENDED:
                last = None if other or run.book.last is None else run.book.last.seq
                changed += self._over(key, last)
                under = None
        if not shooting:
            return changed
        assert window is not None
        assert progress is not None
        if under is None:
            under = _UnderWay(window.start_utc, self._new(key, run, window.start_utc), run.stepped_mono)
            self._under[key] = under
            changed += under.records
        under.begun = True
        stops = [stop for stop in (window.stop_utc, progress.window.stop_utc) if stop is not None]
        for record in under.records:
            record.since_utc = min(record.since_utc or window.start_utc, window.start_utc)
            record.until_utc = max([*stops, record.until_utc or 0.0]) if stops else None
        if run.book.last is not None:
            self._last_seq[key] = run.book.last.seq
        return changed

    def _over(self, key: Key, last_seq: int | None) -> list[ClipRecord]:
        under = self._under.pop(key)
        for record in under.records:
            record.last_seq, record.state, record.why = last_seq, ClipState.WAITING, None
        return under.records

    def _new(self, key: Key, run: ShootRun, start_utc: float) -> list[ClipRecord]:
        shoot, camera = key
        local = datetime.fromtimestamp(start_utc, run.plan.site.zone)
        of = "" if camera == FIRST_CAMERA else f"-{camera}"
        common: dict[str, Any] = {
            "shoot": shoot,
            "camera": camera,
            "date": f"{local:%Y-%m-%d}",
            "state": ClipState.SHOOTING,
            "why": "its window is under way",
            "since_utc": start_utc,
            "after_seq": self._last_seq.get(key, 0),
        }
        options = {"fps": min(run.plan.clip.fps, MOST_FPS), "camera": camera}
        found = []
        if run.plan.clip.daily:
            name = f"day-{local:%Y-%m-%d-%H%M}{of}.mp4"
            found.append(ClipRecord(name=name, kind=ClipKind.DAY, options=options, **common))
        if run.plan.clip.preview:
            small = options | {"size": (SMALL_EDGE, SMALL_EDGE)}
            found.append(ClipRecord(name=f"preview{of}.mp4", kind=ClipKind.PREVIEW, options=small, **common))
        return found

    def slots(self, key: Key, runs: Iterable[ShootRun]) -> int:
        """Slots that the window under way has so far; 0 where there is none."""
        under = self._under.get(key)
        for run in runs:
            if under is not None and (run.shoot.id, run.camera.id) == key and run.slots.progress is not None:
                return run.slots.progress.frames_done
        return 0

    @property
    def under_way(self) -> list[ClipRecord]:
        """Records of windows that are being shot."""
        return [record for under in self._under.values() for record in under.records]
