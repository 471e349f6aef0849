"""Order after a loss: which frames are on the card that nobody saw being written, and which are not."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Iterable
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from controller.camera.messages import TOOK_NONE, CardFile
from controller.engine.book import BESIDE, BETWEEN, OPEN
from controller.engine.card_again import name_again
from controller.engine.only_on_card import TOLD, claim_lost
from controller.engine.passed import LOOKED_AT, claim_passed
from controller.engine.reconcile import Shot, halves, match_between, paths_of, shots
from controller.words.clock import sleep_until
from controller.words.documents import ENDED, Frame, FrameState
from controller.words.errors import CameraError

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

AGAIN_S = 20.0
"""Plan seconds after which the card is looked at again for files that are still on their way."""

LOST_AFTER_S = 120.0
"""Plan seconds from the end of an exposure, and twice as long as it lasted, after which its file comes no more: some
bodies take a dark frame of the same length, and a slow card takes its time."""

BESIDE_AGAIN_S = 3.0
"""The same for the file of a frame that belongs to no slot, until a slot's file tells that it must have come before."""

MISSED_AFTER_S = 15.0
"""The same for a slot of which it is not known whether it was released: mostly it was not."""

TAKEN_ALL_THE_SAME = "the camera showed no file in time; found on the card later; its time is the planned one"

LATE = "its file came later than any is waited for; found on the card then"

log = logging.getLogger(__name__)


class Recovery:
    """The frames of one shoot whose camera was lost under them."""

    def __init__(self, run: ShootRun) -> None:
        self._run = run
        self._adrift: set[int] = set()
        self._halves: set[int] = set()  # found with one file, where others have two
        self._left: set[int] = set()  # those in hand when an earlier start of the rig ended
        self._baseline: str | None = None  # last file on the card before the shoot
        self._beside = ""  # last file on the card that belongs to no slot, before those of slots
        self._nobodys: set[str] | None = None  # stems of all files that belong to no slot; None: not asked yet
        self._lock = asyncio.Lock()
        self._unknown: set[str] = set()  # files that no slot can claim, as far as they are noted
        self._upto = 0  # the last slot that an earlier start of the rig logged
        self._passed = False  # slots that passed before this start may have been shot all the same

    def adopt(self) -> None:
        """Take up frames that an earlier start of the rig left open."""
        self._left = {frame.seq for frame in self._run.book.open_frames()}
        self._upto = self._run.book.last.seq if self._run.book.last is not None else 0
        self._passed = self._run.resumed
        self.set_adrift()

    def set_adrift(self) -> None:
        """Nobody will report on the frames that are open now."""
        self._adrift.update(frame.seq for frame in self._run.book.open_frames())

    def ashore(self, seq: int) -> None:
        """A frame's fate is known."""
        self._adrift.discard(seq)

    def looks_for(self, seq: int) -> bool:
        """A frame whose fate is not known, and which may be on the card."""
        return seq in self._adrift

    async def learn_baseline(self) -> None:
        run = self._run
        if self._baseline is None:
            await name_again(run)
            self._baseline = await run.book.baseline()
        if self._baseline is None:
            files = await run.camera.files()
            self._baseline = max([self._beside, *self._not_mine(files)])
            await run.book.note(
                "card-at-start",
                f"{len(files)} files on the card before the shoot",
                run.clock.utc(),
                last_file=self._baseline,
            )

    def _not_mine(self, files: list[CardFile]) -> list[str]:
        mine = paths_of(self._run.book.frames.values())
        return [file.path for file in files if file.path not in mine]

    async def beside(self, files: list[str], *, noted: bool) -> None:
        """Files on the card that belong to no slot. Noted here unless elsewhere.

        Those of slots come after them, unless the shoot has slots already.
        """
        run = self._run
        between = run.book.last is not None
        if self._nobodys is not None:
            self._nobodys.update(map(_stem, files))
        if not between:
            self._beside = max([self._beside, *files])
        if self._baseline is not None:
            self._baseline = max(self._baseline, self._beside)
        if files and not noted:
            text = "a frame that belongs to no slot came late, or was found after a loss"
            if run.holding.lent:
                text = "a test frame was taken while held; it stays on the card"
            await run.book.note(BETWEEN[0] if between else BESIDE[0], text, run.clock.utc(), files=files)

    async def files(self, fresh: bool = False) -> list[CardFile]:
        """What is on the card and may be of slots. Raises CameraError."""
        if self._nobodys is None:
            self._nobodys = set(map(_stem, await self._run.book.noted(*BESIDE, *BETWEEN)))
        nobodys = self._nobodys
        return [file for file in await self._run.camera.files(fresh) if _stem(file.path) not in nobodys]

    async def look_beside(self) -> None:
        """A camera that was lost with a frame of no slot is there again: its file is looked for.

        It comes before that of the next slot, which is waited for. Where frames of slots are adrift too, their times
        tell them apart: see `reconcile.match`.
        """
        run = self._run
        upto, begun = 0 if run.book.last is None else run.book.last.seq, run.clock.mono()
        while run.camera.opened is not None and not self._adrift and run.shoot.state not in ENDED:
            if not run.book.open_frames() or any(f.camera_file for seq, f in run.book.frames.items() if seq > upto):
                found = await self._found_beside(upto, fresh=run.clock.mono() > begun)
                if found or run.clock.mono() > begun + LOST_AFTER_S:
                    return
                await sleep_until(run.clock, run.clock.mono() + BESIDE_AGAIN_S)
            else:
                await sleep_until(run.clock, run.clock.mono() + run.clock.rate)

    async def _found_beside(self, upto: int, *, fresh: bool) -> bool:
        """Look for a file between those of slot `upto` and the next; whether it is found, or is known not to come."""
        run = self._run
        paths = {file.path for file in await self.files(fresh)}
        rows = [*await run.book.rows_since(upto, named=True), *run.book.frames.values()]  # after the files: slots go on
        later = [row for row in rows if row.seq > upto]
        first = min((row.camera_file for row in later if row.camera_file), default=None)
        if run.book.trouble is not None or (first is None and any(row.state in OPEN for row in later)):
            return False
        before = max([self._baseline or "", *paths_of(row for row in rows if row.seq <= upto)])
        paths -= paths_of(rows)
        news = sorted(path for path in paths if path > before and (first is None or path < first))
        await self.beside(news, noted=False)
        return bool(news) or first is not None

    async def watch(self) -> None:
        """Look at the card, again and again, until every frame adrift is found or is lost."""
        clock, fresh = self._run.clock, False  # the session was opened a moment ago
        while (self._frames() or self._halves) and self._run.camera.opened is not None:
            try:
                async with self._lock:
                    await self._look(fresh=fresh)
            except CameraError as error:
                if self._run.camera.opened is None:
                    raise
                log.info("%s: the card was not looked at: %s; tried again", self._run.shoot.id, error)
            fresh = True
            if self._frames() or self._halves:
                await sleep_until(clock, clock.mono() + AGAIN_S)
        while self._passed and self._run.camera.opened is not None:
            last = self._run.book.last
            if last is not None and last.seq > self._upto and last.camera_file is not None:  # all before it are logged
                await self._claim_passed()
                return
            await sleep_until(clock, clock.mono() + AGAIN_S)

    async def _claim_passed(self) -> None:
        async with self._lock:
            if self._passed and self._run.camera.opened is not None:
                await claim_lost(self._run)
                rest = await claim_passed(self._run, self._upto, self._baseline)
                self._passed = False
                await self._say_unknown(rest)

    async def close(self) -> None:
        """The shoot is over: every frame without a file by now is looked for, and what is not found is lost."""
        async with self._lock:
            self.set_adrift()
            try:
                await self._look(fresh=True, final=True)
            except CameraError as error:
                log.warning("%s: no new look at the card: %s", self._run.shoot.id, error)
                await self._look(fresh=False, final=True)
        try:
            await self._claim_passed()
        except CameraError as error:
            log.warning("%s: slots that passed were not looked for: %s", self._run.shoot.id, error)
        try:
            await self._rest()
        except CameraError as error:
            log.warning("%s: the card was not looked through at the end: %s", self._run.shoot.id, error)

    def _frames(self) -> list[Frame]:
        frames = self._run.book.frames
        return [frame for seq in sorted(self._adrift) if (frame := frames.get(seq)) is not None]

    async def _look(self, *, fresh: bool, final: bool = False) -> None:
        """Only a `fresh` look tells that a file is not there: a body that was lost may have told nobody of it."""
        run, frames, again = self._run, self._frames(), self._halves
        if not frames and not again:
            return
        if run.camera.opened is None:
            if final:
                await self._without_camera(frames)
            return
        files = await self.files(fresh)
        self._halves = set()
        first = min([*again, *(frame.seq for frame in frames)])
        rows = await run.book.rows_since(first, named=True)
        pairs = halves(rows, files)
        for seq, paths in pairs.items():
            await self._here(seq, paths)
        known = paths_of(rows).union(*pairs.values())
        before = [path for row in rows if row.seq < first and (path := row.camera_file)]
        after = max(before) if before else self._baseline
        found = match_between(frames, rows, shots(files, known, after), files)
        for seq, shot in found.matched.items():
            unwatched = run.book.frames[seq].released_utc is None
            more: dict[str, object] = {}
            if unwatched:
                more = {
                    "released_utc": run.book.frames[seq].due_utc,
                    "cause": "released while the camera was lost to the rig; its time is the planned one",
                }
            await self._here(seq, shot.paths, **more)
            if len(shot.files) == 1 and any(row.companion_file for row in rows):
                self._halves.add(seq)  # a body writes the files of a pair one after the other
        for seq in found.unclaimed:
            frame = run.book.frames[seq]
            gone_s = run.clock.utc() - frame.due_utc - 2 * (frame.shutter_s or 0.0)
            patience_s = MISSED_AFTER_S if frame.state is FrameState.DUE else LOST_AFTER_S
            if final or (fresh and gone_s > patience_s):
                await self._without_file(frame)
        rest = await self._claim_late(found.unknown, files)
        await self._say_unknown(path for shot in rest for path in shot.paths)

    async def _rest(self) -> None:
        """No frame is in hand any more: what else is new on the card is of a slot that seemed in vain, or of none."""
        run = self._run
        if run.camera.opened is None or self._baseline is None:
            return
        files = await run.camera.files()
        new = shots(files, (), self._baseline)
        unnamed = await run.book.unnamed([path for shot in new for path in shot.paths])
        unnamed.difference_update(await run.book.noted(*BESIDE, *BETWEEN))
        rest = await self._claim_late([shot for shot in new if unnamed.issuperset(shot.paths)], files)
        halves_left = [shot for shot in new if not unnamed.issuperset(shot.paths)]
        unnamed.difference_update(await run.book.noted("unknown-files"))
        await self._say_unknown(path for shot in (*halves_left, *rest) for path in shot.paths if path in unnamed)

    async def _claim_late(self, found: list[Shot], files: list[CardFile]) -> list[Shot]:
        """Give what no slot in hand can claim to slots that were called lost or seemed in vain; what is left of it."""
        book = self._run.book
        since = (0 if book.last is None else book.last.seq) - LOOKED_AT
        vain = [frame for frame in book.lately_missed if frame.cause == TOOK_NONE]
        late = {frame.seq: frame for frame in (*vain, *book.lately_lost) if frame.seq > since}
        if not found or not late:
            return found
        rows = await book.rows_since(min(late), named=True)
        matched = match_between(list(late.values()), rows, found, files).matched
        for seq, shot in matched.items():
            frame = late[seq]
            book.take_up(frame)
            if frame.state is FrameState.LOST:
                await self._here(seq, shot.paths, cause=LATE)
            else:
                book.lately_missed.remove(frame)
                await self._here(seq, shot.paths, released_utc=frame.due_utc, cause=TAKEN_ALL_THE_SAME)
        return [shot for shot in found if shot not in matched.values()]

    async def _here(self, seq: int, paths: list[str], **more: object) -> None:
        """A frame's files are found."""
        frame = await self._run.reports.on_card(seq, paths, **more)
        if frame is not None:
            await self._run.reports.fetching.ask(frame)

    async def _say_unknown(self, paths: Iterable[str]) -> None:
        """Files that came during the shoot and belong to no slot; each is told once."""
        if news := [path for path in paths if path not in self._unknown]:
            self._unknown.update(news)
            text = f"on the card, but of no slot: {', '.join(news[:TOLD])}{' …' if len(news) > TOLD else ''}"
            await self._run.book.note("unknown-files", text, self._run.clock.utc(), files=news)

    async def _without_camera(self, frames: list[Frame]) -> None:
        """The shoot is over and the camera did not come back: what is known is said, and no more."""
        why = self._run.reports.gone_cause or "it was lost"
        for frame in frames:
            if frame.state is FrameState.DUE:
                cause = f"not known to be released, the camera did not come back: {why}"
                await self._run.book.change(frame.seq, state=FrameState.MISSED, cause=cause)
            else:
                await self._run.book.change(frame.seq, cause="released; the camera did not come back, look at its card")

    async def _without_file(self, frame: Frame) -> None:
        cause = self._run.reports.gone_cause or "the camera did not say that it wrote the frame"
        if frame.seq in self._left:
            cause = "the rig stopped while this slot was in hand"
        if frame.state is FrameState.RELEASED:
            await self._run.book.change(frame.seq, state=FrameState.LOST, cause=f"no file on the card: {cause}")
        else:
            await self._run.book.change(frame.seq, state=FrameState.MISSED, cause=cause)
        self._adrift.discard(frame.seq)
        self._run.book.forget(frame.seq)


def _stem(path: str) -> str:
    """What the files of one frame share."""
    return str(PurePosixPath(path).with_suffix(""))
