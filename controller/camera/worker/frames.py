"""From release to picture: which frames are on their way, which are written, and whose previews are still wanted."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from controller.camera.messages import Preview, Release, Released, Report, Trouble, Written
from controller.camera.worker.faults import CARD_REMEDY, Fault, Kind, plain
from controller.camera.worker.fetch import Fetcher
from controller.camera.worker.opening import Body
from controller.camera.worker.roll import CardEntry, Roll, Shot
from controller.camera.worker.session import Event, Session

_QUIET_S = 0.5  # no second file of a frame comes later than this after the first, unless one came before
_WORD_S = 4.0  # after the exposure: a camera that has told of no file by then is not waited for
_PASSED_S = 1.0  # the same, where a later frame's file is known already
_FIRST_PATIENCE_S, _LEAST_PATIENCE_S, _MOST_PATIENCE_S = 1.5, 0.3, 8.0
_CROWDED_S = 2.0  # the same, while earlier frames wait for their files
_LOOKS = 3  # at the card, each time after twice the wait, before a frame is given up
_TRIES, _AGAIN_S = 5, 0.1
_PREVIEWS = 10  # that wait for time; older ones are given up


@dataclass(slots=True)
class _Wanted:
    shot: Shot
    tries: int = 0


class Frames:
    """`report` takes what is to be told."""

    def __init__(self, report: Callable[[Report], None], fetcher: Fetcher, body: Body) -> None:
        self._report, self._fetcher = report, fetcher
        self._roll = Roll(body.take_files(), body.clock_s, body.opened_mono)
        self._per_frame: int | None = None  # files that a frame of this body has
        self._previews: list[_Wanted] = []
        self._starved = False  # the last one was given up for want of time
        self._not_before = 0.0
        self._looked_mono = 0.0
        self.exposing_until = 0.0

    # ---- what happens

    def released(self, order: Release, at_mono: float, told: Released, doubtful: bool) -> Shot:
        """`told` is what is to be told of it: at once, or where it is `doubtful` once a file has come. See `doubt`."""
        shot = self._roll.released(order, at_mono, told.at_mono + told.call_s)
        self.exposing_until = shot.ends_mono
        shot.doubtful, shot.untold = doubtful, told
        if not doubtful:
            self._tell(shot)
        return shot

    def untaken(self, shot: Shot) -> bool:
        """No file came of a release that was answered; False where earlier frames wait for theirs too, so that nothing
        is proven: then it is told."""
        if self._roll.pending[0] is not shot:
            self._tell(shot)
            return False
        self._roll.untaken(shot)
        return True

    def proven_by(self, shot: Shot) -> float:
        """Until when the file is waited for that shows whether a frame was taken; nothing is released meanwhile."""
        usual_s, crowded = self._roll.usual_s, self._roll.pending[0] is not shot
        patience_s = _FIRST_PATIENCE_S if usual_s is None else _LEAST_PATIENCE_S + 2 * usual_s
        return max(shot.answered_mono, shot.ends_mono) + min(patience_s, _CROWDED_S if crowded else _MOST_PATIENCE_S)

    def _tell(self, shot: Shot) -> None:
        told, shot.untold = shot.untold, None
        if told is not None:
            self._report(told)

    def told(self, event: Event, session: Session, now_mono: float) -> None:
        """Take in an event of the body; raises Fault."""
        if event.kind == "file":
            if self._roll.knows(event.path):
                return
            shot = self._roll.added(_entry(session, event.path, now_mono))
            if shot is not None:
                self._has_file(shot, event.path)
        elif event.kind == "complete":
            for shot in self._roll.unfinished:
                self._ended(shot)
        elif event.kind == "full" and self._roll.pending:
            shot = self._roll.pending[0]
            what = f"frame {shot.order.seq} was not written: the camera's card is full"
            self._give_up(shot, Trouble("card-full", what, CARD_REMEDY, shot.order.seq))

    def clock_set(self, clock_s: float) -> None:
        """The body's clock was set, and shows this now: times of files before tell nothing of those to come."""
        self._roll.clock_set(clock_s, time.monotonic())

    def quiet(self, now_mono: float) -> None:
        """The body had nothing to tell: frames to which nothing came for a while have all their files."""
        for shot in self._roll.unfinished:
            if now_mono - shot.last_file_mono > _QUIET_S:
                self._ended(shot)

    def look(self, body: Body) -> None:
        """Take in the listing of a new session; frames that it shows to be missing are told of. Raises Fault."""
        now_mono = self._looked_mono = time.monotonic()
        overdue = self._overdue(now_mono)
        fresh = [path for path in body.take_files() if not self._roll.knows(path)]
        self._roll.found([_entry(body.session, path, now_mono) for path in fresh])
        for shot in self._roll.unfinished:
            if shot.halves_looked_for or len(shot.files) >= (self._per_frame or 1):
                self._complete(shot)
            else:
                shot.halves_looked_for = True  # the other file may have been written after this session began
        for shot in overdue:
            shot.looks += 1
            if shot in self._roll.pending and (shot.looks >= _LOOKS or self._roll.passed(shot)):
                what = f"frame {shot.order.seq} was released, but the card has no file of it"
                self._give_up(shot, Trouble("no-file", what, "Look at the camera's card", shot.order.seq))

    def _give_up(self, shot: Shot, trouble: Trouble) -> None:
        self._roll.lost(shot)
        self._report(trouble)

    def _has_file(self, shot: Shot, path: str) -> None:
        self._tell(shot)
        for older in self._roll.unfinished:
            if older.index < shot.index:
                self._ended(older)
        if shot.complete:  # the second file of a pair, after all
            self._per_frame = len(shot.files)
            self._written(shot, [path])
        elif self._per_frame is not None and len(shot.files) >= self._per_frame:
            self._complete(shot)

    def _ended(self, shot: Shot) -> None:
        """By what the body tells it has all its files; of one that fell between two sessions it tells nothing."""
        if not shot.halves_looked_for:
            self._complete(shot)

    def _complete(self, shot: Shot) -> None:
        if shot.complete:
            return
        shot.complete = True
        self._per_frame = len(shot.files)
        self._written(shot, shot.paths)
        if shot.order.fetch != "none":
            self._previews.append(_Wanted(shot))
        while len(self._previews) > _PREVIEWS:
            self._no_time(self._previews[0])

    def _written(self, shot: Shot, fresh: list[str]) -> None:
        self._tell(shot)
        order = shot.order
        self._report(Written(order.seq, shot.paths, shot.last_file_mono))
        if order.fetch == "all":
            for path in fresh:
                self._fetcher.want(order.seq, path, order.directory, order.stem)

    # ---- previews

    def wants_preview(self, now_mono: float) -> bool:
        return bool(self._previews) and now_mono >= self._not_before

    def preview(self, session: Session) -> None:
        """Fetch the small picture of the newest frame that waits for it; raises Fault where the session is lost."""
        wanted = self._previews[-1]
        try:
            jpeg = session.preview(wanted.shot.paths[0])
        except Fault as fault:
            self._failed(wanted, fault)
        else:
            self._previews.remove(wanted)
            self._starved = False
            self._report(Preview(wanted.shot.order.seq, jpeg, time.monotonic()))

    def _failed(self, wanted: _Wanted, fault: Fault) -> None:
        if fault.kind is Kind.LOST:
            raise fault
        wanted.tries += 1
        self._not_before = time.monotonic() + _AGAIN_S
        if wanted.tries >= _TRIES or fault.kind is not Kind.BUSY:
            self._no_preview(wanted, plain(fault.reason) or str(fault))

    def _no_time(self, wanted: _Wanted) -> None:
        """Told of the first, and again once there was time in between: where there never is any, all frames go so."""
        if self._starved:
            self._previews.remove(wanted)
            return
        self._starved = True
        self._no_preview(wanted, "there was no time to fetch it between releases")

    def _no_preview(self, wanted: _Wanted, why: str) -> None:
        self._previews.remove(wanted)
        seq = wanted.shot.order.seq
        remedy = "The frame itself is on the card"
        self._report(Trouble("no-preview", f"frame {seq} has no small picture: {why}", remedy, seq))

    # ---- what is asked

    @property
    def whole(self) -> bool:
        """Every frame of this session has its files, so that any other on the card is none of theirs."""
        return not self._roll.pending and not self._roll.unfinished

    def is_told(self, path: str) -> bool:
        """The daemon has heard whose file it is, or never will since it is nobody's."""
        return self._roll.knows(path) and all(path not in shot.files for shot in self._roll.unfinished)

    def awaiting(self, now_mono: float) -> bool:
        """The body will probably tell of a frame soon."""
        return any(now_mono < s.ends_mono + _WORD_S for s in self._roll.pending) or bool(self._roll.unfinished)

    def missing(self, now_mono: float, asked: bool) -> bool:
        """The body should have told of a frame and did not. `asked`: the daemon wants the card's listing now."""
        if self._roll.unsure or any(
            s.halves_looked_for and now_mono > s.last_file_mono + _PASSED_S for s in self._roll.unfinished
        ):
            return True
        if asked and now_mono > self._looked_mono + _PASSED_S:
            return any(now_mono > shot.ends_mono + _PASSED_S for shot in self._roll.pending)
        return bool(self._overdue(now_mono))

    def _overdue(self, now_mono: float) -> list[Shot]:
        def patience(shot: Shot) -> float:
            return _PASSED_S if self._roll.passed(shot) else _WORD_S * 2**shot.looks

        return [shot for shot in self._roll.pending if now_mono > shot.ends_mono + patience(shot)]


def _entry(session: Session, path: str, now_mono: float) -> CardEntry:
    try:
        mtime_s = session.info(path).mtime_s
    except Fault as fault:
        if fault.kind is Kind.LOST:
            raise
        mtime_s = None
    return CardEntry(path, mtime_s, now_mono)
