"""The frames in hand, in the order of their release, and which file on the card belongs to which. Pure.

A camera says "here is a file", not whose it is, and some say it twice or not at all. A wrong guess would shift every
later frame by one, so three things are asked of each new file. When it came: a file cannot be there before its
exposure ended. Its time by the camera's clock, against that of the last frame whose file is known. And its number: DCF
(CIPA DC-009, section 3) counts frames upwards from 0001 to 9999. Where none of them tells, the whole card must.
"""

from __future__ import annotations

import statistics
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import PurePosixPath

from controller.camera.messages import Release, Released
from controller.camera.worker.names import Names, number
from controller.words.layout import JPEG

_FAR = 1000  # a distance between numbers beyond which they tell nothing
_KEPT = 32  # finished frames that a late second file may still belong to
_CLEAR_S = 1.5  # file times count whole seconds
_BEFORE_S = (3.5, 600.0)  # on a FAT card even ones; what is off by more is off by a clock, not by a frame


@dataclass(frozen=True, slots=True)
class CardEntry:
    """A file that the camera told of. `mtime_s` is by its own clock, None where it does not say."""

    path: str
    mtime_s: float | None
    at_mono: float


@dataclass(slots=True, eq=False)
class Shot:
    """One frame whose shutter was released."""

    order: Release
    index: int  # counts releases
    released_mono: float
    answered_mono: float = 0.0  # when the body answered the release
    doubtful: bool = False  # it was answered, and perhaps no frame was taken
    untold: Released | None = None  # what is to be told of it once it has a file
    files: list[str] = field(default_factory=list)
    mtime_s: float | None = None
    last_file_mono: float = 0.0
    complete: bool = False
    halves_looked_for: bool = False  # it was found with fewer files than others have: the card is looked at once more
    looks: int = 0  # at the card for it, in vain

    @property
    def ends_mono(self) -> float:
        """When the exposure is over."""
        return self.released_mono + self.order.exposure_s

    @property
    def latest_mono(self) -> float:
        """When the shutter opened at the latest: a body that slept answers late and exposes then; others answer when
        the exposure is over."""
        return max(self.released_mono, self.answered_mono - self.order.exposure_s)

    @property
    def rate(self) -> float:
        """How much faster the camera's time runs than the wall's; 1 but in a demonstration."""
        return self.order.shutter_s / self.order.exposure_s if self.order.exposure_s > 0 else 1.0

    @property
    def paths(self) -> list[str]:
        """The JPEG first where there is a pair."""
        return sorted(self.files, key=lambda path: PurePosixPath(path).suffix.lower() not in JPEG)


@dataclass(frozen=True, slots=True)
class _Base:
    """Where counting begins: a frame whose file is known, or what stood when the session was opened."""

    index: int
    number: int | None
    mtime_s: float | None
    released_mono: float
    latest_mono: float


class Roll:
    """`seen` are the files that were on the card at `at_mono`, `clock_s` the camera's clock then, where it has one."""

    def __init__(self, seen: Iterable[str] = (), clock_s: float | None = None, at_mono: float = 0.0) -> None:
        there = list(seen)
        self._seen = Names(there)
        self._released = 0
        self._pending: list[Shot] = []  # without a file
        self._known: deque[Shot] = deque()  # with one; beyond _KEPT only those that may still get another
        newest = max((path for path in there if number(path) is not None), default="")
        self._nobodys = deque([stem(newest)], maxlen=_KEPT)  # to these too a second file may still come
        self._base = _Base(-1, number(newest), clock_s, at_mono, at_mono)
        self.unsure = False  # a file came that may be one of several frames': the whole card has to be looked at

    # ---- what happens

    def released(self, order: Release, at_mono: float, answered_mono: float = 0.0) -> Shot:
        shot = Shot(order, self._released, at_mono, answered_mono)
        self._released += 1
        self._pending.append(shot)
        return shot

    def added(self, entry: CardEntry) -> Shot | None:
        """Whose file it is; None where it is known already, nobody's, or `unsure`."""
        if entry.path in self._seen:
            return None
        shot = self._companion(entry.path)
        if shot is None:
            able = self._able(entry)
            if not able:
                self._seen.add(entry.path)
                self._nobodys.append(stem(entry.path))
                if not self._older(entry):  # released at the body by hand: it counts in the numbers all the same
                    self._base = replace(self._base, index=self._newest_known(), number=number(entry.path))
                return None
            shot = able[0] if len(able) == 1 else self._by_time(entry, able) or self._by_number(entry, able)
            if shot is None:
                self.unsure = True
                return None
        self._give(shot, entry)
        return shot

    def found(self, entries: Iterable[CardEntry]) -> list[Shot]:
        """A listing of the whole card: shots that have a file now which they had not."""
        # A file that was told of while the card was listed stands in it twice.
        listed = {e.path: e for e in entries if e.path not in self._seen}
        fresh = [listed[path] for path in sorted(listed)]
        stems = list(dict.fromkeys(stem(e.path) for e in fresh if not self._companion(e.path) and self._able(e)))
        waiting = [s for s in self._pending if any(s.ends_mono <= e.at_mono for e in fresh)]
        sure = [s for s in waiting if not s.doubtful]
        whose = next((dict(zip(stems, each, strict=True)) for each in (waiting, sure) if len(each) == len(stems)), {})
        if self._base.index < 0 and 0 < len(waiting) < len(stems):  # the first ones were in hand in a session before
            whose = dict(zip(stems[-len(waiting) :], waiting, strict=True))
        touched: dict[int, Shot] = {}
        for entry in sorted(fresh, key=lambda e: stem(e.path) not in whose):
            shot = whose.get(stem(entry.path))
            if shot is not None:
                self._give(shot, entry)
            else:
                shot = self.added(entry)
                if shot is None and self.unsure:  # nothing tells: cameras write in the order of their exposures
                    shot = self._able(entry)[0]
                    self._give(shot, entry)
            self.unsure = False
            if shot is not None:
                touched[shot.index] = shot
        return list(touched.values())

    def untaken(self, shot: Shot) -> None:
        """The newest shot took no frame, so that it counts in no number."""
        self._pending.remove(shot)
        self._released -= 1

    def lost(self, shot: Shot) -> None:
        """The shot will have no file."""
        self._pending.remove(shot)

    def clock_set(self, clock_s: float, at_mono: float) -> None:
        """The camera's clock was set, and shows `clock_s` at `at_mono`."""
        self._base = replace(self._base, mtime_s=clock_s, released_mono=at_mono, latest_mono=at_mono)

    # ---- what is asked

    def knows(self, path: str) -> bool:
        return path in self._seen

    def passed(self, shot: Shot) -> bool:
        """A frame released later has its file already."""
        return any(known.index > shot.index for known in self._known)

    @property
    def usual_s(self) -> float | None:
        """How long after the answer a file mostly comes, or after the exposure; None where no frame has one yet."""
        took = [s.last_file_mono - max(s.ends_mono, s.answered_mono) for s in self._known]
        return statistics.median(took) if took else None

    @property
    def pending(self) -> list[Shot]:
        """Shots without a file, oldest first."""
        return list(self._pending)

    @property
    def unfinished(self) -> list[Shot]:
        """Shots with a file to which another may still come."""
        return [s for s in self._known if not s.complete]

    # ---- deciding

    def _companion(self, path: str) -> Shot | None:
        return next((s for s in self._known if stem(s.files[0]) == stem(path)), None)

    def _give(self, shot: Shot, entry: CardEntry) -> None:
        self._seen.add(entry.path)
        if shot in self._pending:
            self._pending.remove(shot)
            self._known.append(shot)
            while len(self._known) > _KEPT and self._known[0].complete:
                self._known.popleft()
            shot.mtime_s = entry.mtime_s
            if shot.index > self._base.index:
                shot_at = (shot.released_mono, shot.latest_mono)
                self._base = _Base(shot.index, number(entry.path), entry.mtime_s, *shot_at)
        shot.files.append(entry.path)
        shot.last_file_mono = entry.at_mono

    def _newest_known(self) -> int:
        return max((s.index for s in self._known), default=-1)

    def _able(self, entry: CardEntry) -> list[Shot]:
        if stem(entry.path) in self._nobodys:
            return []
        there = [s for s in self._pending if entry.at_mono >= s.ends_mono - 0.05 - 0.1 * s.order.exposure_s]
        if self._base.index < 0:
            there = [s for s in there if not self._before(entry, s)]
        if self._base.index >= 0 and self._older(entry):  # perhaps of a session that was lost
            there = [s for s in there if s.index < self._base.index]
        # A frame that waits in vain, as for a card that was full, stands beyond known ones that the file is older than.
        newer = [s.index for s in self._known if _below(number(entry.path), number(s.files[0]))]
        return [s for s in there if s.index < min(newer, default=self._released)]

    def _before(self, entry: CardEntry, shot: Shot) -> bool:
        """Whether a file that is among the first of a session is surely of one that was lost, by the camera's clock."""
        if entry.mtime_s is None or self._base.mtime_s is None:
            return False
        least = (shot.released_mono - self._base.latest_mono) * shot.rate
        early, most = _BEFORE_S
        return early < least - (entry.mtime_s - self._base.mtime_s) < most

    def _older(self, entry: CardEntry) -> bool:
        """Whether the file's number is surely below that of the base."""
        return _below(number(entry.path), self._base.number)

    def _by_time(self, entry: CardEntry, able: list[Shot]) -> Shot | None:
        base = self._base
        if entry.mtime_s is None or base.mtime_s is None:
            return None
        since_base = entry.mtime_s - base.mtime_s

        def off(shot: Shot) -> float:
            least = (shot.released_mono - base.latest_mono) * shot.rate
            most = (shot.latest_mono - base.released_mono) * shot.rate
            return max(least - since_base, since_base - most, 0.0)

        best, second = sorted(able, key=off)[:2]
        # Some bodies stamp the beginning of the exposure and some its end.
        sure = off(best) < _CLEAR_S + best.order.shutter_s and off(second) - off(best) > _CLEAR_S
        return best if sure else None

    def _by_number(self, entry: CardEntry, able: list[Shot]) -> Shot | None:
        here = number(entry.path)
        if here is None or self._base.number is None:
            return None
        distance = (here - self._base.number) % 9999
        if not 0 < distance < _FAR:
            return None
        doubtful = [s.index for s in self._pending if s.doubtful and s.index > self._base.index]

        def of(shots: list[Shot], without: list[int]) -> Shot | None:
            places = ((s, s.index - self._base.index - sum(index < s.index for index in without)) for s in shots)
            return next((s for s, place in places if place == distance), None)

        # A release that was perhaps in vain has probably taken no number.
        return of([s for s in able if not s.doubtful], doubtful) or of(able, [])


def _below(one: int | None, other: int | None) -> bool:
    """Whether a file's number is surely below another's."""
    return one is not None and other is not None and 0 < (other - one) % 9999 < _FAR


def stem(path: str) -> str:
    """The path without its extension, which is what the files of one frame share."""
    return path.rpartition(".")[0]
