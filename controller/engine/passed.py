"""Slots that passed while the log could not be written: the rig shot on, and when it was started again it did not know.

A start logs the slots since the last row as missed, since the rig was not running. Where its disk had stopped taking
writes before it ended, frames of some of them are on the card.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from controller.camera.messages import CardFile
from controller.decide.step import Moment, Slot
from controller.decide.wiring.motion import MOVING
from controller.engine.reconcile import Shot, clock_offset_s, offset_near, paths_of, shots
from controller.words.documents import Frame, FrameState
from controller.words.phrases import grouped, length

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

NOT_RUNNING = "the rig was not running"
UNLOGGED = "released while the log could not be written; its time is the planned one"

NEAR_S = 1.5
"""How far a file time may be off, whose resolution is 2 s at most: what is farther was taken by somebody's hand."""

MOST = 100_000
"""Slots that are logged one by one after an outage; more than that are told by a note alone: at 5 s they are six days,
and a clock that comes back years ahead would keep the rig from shooting while it logs."""

LOOKED_AT = 5000
"""Slots back from the newest row; what is older on the card is told as files."""


class _Way(NamedTuple):
    """Shots given to slots, of which the last is this one; `before` are the others."""

    given: int
    off_s: float  # sum over all
    seq: int
    shot: Shot | None
    before: _Way | None

    def better_than(self, other: _Way) -> bool:
        return (self.given, -self.off_s) > (other.given, -other.off_s)


def nearest(
    frames: Sequence[Frame], found: Sequence[Shot], offset_s: float | None, near_s: float = NEAR_S
) -> dict[int, Shot]:
    """Give shots to slots, both in their order, each to one whose exposure ended within `near_s` of its file time.

    Of all such ways that which gives the most, and of those that which is nearest to the file times in sum: a slot that
    is a little off, as all are after a start that took its time, must not hand on its shot to the next one, and that
    one to the next, until the last shot has none. `offset_s` is the camera's clock minus the rig's; where it or a file
    time is not known nothing is given. Ends are taken to rise, as they do where the clock was not put between slots.
    """
    given: dict[int, Shot] = {}
    if offset_s is None:
        return given
    slots = sorted(frames, key=lambda frame: frame.seq)
    ends = [_ended(slot) for slot in slots]
    nothing = _Way(0, 0.0, 0, None, None)
    best = [nothing] * (len(slots) + 1)  # a Fenwick tree: the best way that ends with one of the first slots
    for shot in found:
        if shot.mtime_utc is None:
            continue
        at_utc = shot.mtime_utc - offset_s
        ways = []
        for place in range(bisect_left(ends, at_utc - near_s), bisect_right(ends, at_utc + near_s)):
            before = _best_of_first(best, place)
            off_s = before.off_s + abs(ends[place] - at_utc)
            ways.append((place, _Way(before.given + 1, off_s, slots[place].seq, shot, before)))
        for place, way in ways:  # a shot has one slot
            _enter(best, place, way)
    last: _Way | None = _best_of_first(best, len(slots))
    while last is not None:
        if last.shot is not None:
            given[last.seq] = last.shot
        last = last.before
    return dict(sorted(given.items()))


def _best_of_first(best: Sequence[_Way], count: int) -> _Way:
    found = best[0]
    while count > 0:
        if best[count].better_than(found):
            found = best[count]
        count &= count - 1
    return found


def _enter(best: list[_Way], place: int, way: _Way) -> None:
    at = place + 1
    while at < len(best):
        if way.better_than(best[at]):
            best[at] = way
        at += at & -at


def why_passed(run: ShootRun, slot: Slot) -> str:
    """The cause of a slot that passed without a release; what to do about it is told once elsewhere."""
    if slot.due_mono < run.up_mono:
        return NOT_RUNNING
    if slot.due_mono < run.clock_set_mono:
        return "the rig's clock was not set"
    if run.camera.opened is None:
        return (run.camera.trouble or "the camera was not there").partition(". ")[0]
    if slot.due_mono < run.reports.opened_mono:
        return run.reports.gone_cause or "the camera was not there"
    if run.moving is not None and slot.due_mono < run.moving.still_at:
        return MOVING
    return "the camera was still busy with the frame before"


def too_many(slot: Slot, now: Moment) -> bool:
    """Whether more than MOST slots have passed since `slot` was due."""
    return now.mono - slot.due_mono > MOST * slot.interval_s


async def tell_passed(run: ShootRun, slot: Slot, now: Moment, cause: str) -> None:
    """Note the slots from `slot` on that passed and are not logged one by one."""
    passed_s = now.mono - slot.due_mono
    many = round(passed_s / slot.interval_s)
    text = f"about {grouped(many)} slots passed in {length(passed_s)} and have no rows of their own: {cause}"
    await run.book.note("slots-passed", text, now.utc, from_utc=slot.due_utc, slots=many)


def _ended(frame: Frame) -> float:
    return frame.at_utc + (frame.shutter_s or 0.0)


def clock_of_passed_s(gap: tuple[int, int], rows: Sequence[Frame], files: Sequence[CardFile]) -> float | None:
    """How the camera's clock stood to that by which the slots of `gap`, the first and the last, passed: the rig's as it
    is now, if it was put meanwhile."""
    near_s = offset_near(gap, rows, files)
    return clock_offset_s([row for row in rows if row.seq > gap[1]], files) if near_s is None else near_s


async def _passed_near(run: ShootRun, upto: int, found: Sequence[Shot], offset_s: float | None) -> list[Frame]:
    """Slots beyond `upto` that passed, and that may be those of these shots: an outage of days leaves slots by the ten
    thousand, and a small machine has no room for all of them at once."""
    if offset_s is None or not found:
        return []
    times = sorted(shot.mtime_utc - offset_s for shot in found if shot.mtime_utc is not None)

    def near(row: Frame) -> bool:
        place = bisect_left(times, _ended(row) - NEAR_S)
        return place < len(times) and times[place] <= _ended(row) + NEAR_S

    return [
        row
        async for page in run.book.pages(upto)
        for row in page
        if row.state is FrameState.MISSED and row.cause == NOT_RUNNING and near(row)
    ]


async def claim_passed(run: ShootRun, upto: int, after: str | None) -> list[str]:
    """Log the frames of such slots, `upto` being the last that an earlier start has logged.

    Answers the paths of what is new on the card, beyond `after`, and of no slot: test frames too, whose note an earlier
    start may not have come to write. Before the first frame of a shoot nothing tells them apart, and nothing is given.
    Raises CameraError, StoreError.
    """
    rows = await run.book.rows_since(max(0, upto - LOOKED_AT), named=True)
    before = [row.camera_file for row in rows if row.camera_file and row.seq <= upto]
    since = {row.seq: row.camera_file for row in rows if row.camera_file and row.seq > upto}
    files = await run.recovery.files()
    known = paths_of(rows)
    found = [
        shot
        for shot in shots(files, known, max([*before, after or ""]))
        if not since or shot.paths[0] < min(since.values())  # what comes later is on its way to its slot
    ]
    gap = (upto + 1, max(upto + 1, min(since, default=0) - 1))
    offset_s = clock_of_passed_s(gap, rows, files) if before else None
    passed = await _passed_near(run, upto, found, offset_s)
    given = nearest(passed, found, offset_s)
    by_seq = {row.seq: row for row in passed}
    for seq, shot in given.items():
        run.book.frames[seq] = by_seq[seq]
        frame = await run.reports.on_card(seq, shot.paths, released_utc=by_seq[seq].due_utc, cause=UNLOGGED)
        if frame is not None:
            await run.reports.fetching.ask(frame)
    claimed = {path for shot in given.values() for path in shot.paths}
    return [path for shot in found for path in shot.paths if path not in claimed]
