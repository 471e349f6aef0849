"""Which copies are on their way from the camera's card. What is left for later stands in the log, and nowhere else.

A body may shoot for weeks faster than copies can be had, as while the rig's disk is full; so only so many are asked of
the camera process at a time, and the log gives the others, oldest first, as those come.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from controller.store.files import frame_stem, frames_of_day
from controller.words.documents import Frame, FrameState

if TYPE_CHECKING:
    from controller.engine.run import ShootRun

AT_ONCE = 200
"""Frames whose copies are asked of the camera process and have not come."""

IN_VAIN = 20
"""Copies that fail in a row before no more are asked for: the card is another one, or broken."""


class Fetching:
    """The copies of one shoot of one camera."""

    def __init__(self, run: ShootRun) -> None:
        self._run = run
        self._asked: set[int] = set()
        self._failed: int | None = None  # the lowest slot given up in this session of the camera
        self._left: int | None = 0 if run.resumed else None  # the lowest slot that may be left for later
        self._looking = False
        self._in_vain = 0

    @property
    def behind(self) -> bool:
        """Copies may be left for later."""
        return self._left is not None

    def wants(self, seq: int) -> bool:
        """The frame's copy is on its way."""
        return seq in self._asked

    def order(self, seq: int) -> Literal["all", "preview", "none"]:
        """What the camera process is to fetch of a frame that is released now."""
        wanted = self._run.plan.files.fetch_of(seq)
        if wanted == "all":
            self._asked.intersection_update(self._run.book.frames)
            if len(self._asked) >= AT_ONCE:
                return "preview"
            self._asked.add(seq)
        return wanted

    def written(self, seq: int) -> None:
        """A frame is on the card, and the log knows it."""
        if self._run.plan.files.fetch_of(seq) == "all" and seq not in self._asked:
            self._leave(seq)

    def came(self, seq: int) -> None:
        """Its copy is whole."""
        self._asked.discard(seq)
        self._in_vain = 0

    def failed(self, seq: int) -> bool:
        """The card did not give it, several times; it is asked for again in the camera's next session.

        True where so many failed in a row that no more are asked for until then.
        """
        self._asked.discard(seq)
        self._failed = seq if self._failed is None else min(self._failed, seq)
        self._in_vain += 1
        return self._in_vain == IN_VAIN

    async def opened(self) -> None:
        """The camera process is a new one: whatever was asked of the last one is asked again."""
        if self._failed is not None:
            self._leave(self._failed)
        self._failed, self._in_vain = None, 0
        for frame in list(self._run.book.frames.values()):
            if frame.state is FrameState.WRITTEN and frame.seq in self._asked:
                await self.ask(frame)
        await self.more()

    async def more(self) -> None:
        """Ask for what was left, as far as there is room. Raises StoreError, CameraError: it stays left."""
        run, start, every = self._run, self._left, self._run.plan.files.every
        if start is None or every is None or run.camera.opened is None or self._looking:
            return
        if len(self._asked) > AT_ONCE // 2 or self._in_vain >= IN_VAIN:
            return
        self._looking, self._left = True, None
        try:
            left = await run.book.unfetched(start, AT_ONCE, every)
            for frame in left:
                if frame.seq not in self._asked:
                    run.book.take_up(frame)
                    await self.ask(frame)
                start = frame.seq + 1
            if len(left) == AT_ONCE:
                self._leave(start)
        except BaseException:
            self._leave(start)
            raise
        finally:
            self._looking = False

    async def ask(self, frame: Frame) -> None:
        """Have a frame fetched that should be on the rig, both files of a pair. Raises CameraError."""
        run = self._run
        if run.plan.files.fetch_of(frame.seq) != "all":
            return
        self._asked.add(frame.seq)
        directory = frames_of_day(run.directory, run.shoot.id, frame.due_utc, run.camera.id)
        for camera_file in filter(None, (frame.camera_file, frame.companion_file)):
            await run.camera.fetch(frame.seq, camera_file, directory, frame_stem(frame.seq))

    def _leave(self, seq: int) -> None:
        self._left = seq if self._left is None else min(self._left, seq)
