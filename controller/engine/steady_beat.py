"""Takes the test frames of a steady beat with a camera that nobody else uses meanwhile."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from controller.camera.messages import Gone, Missed, Release, Released, Report, Settled, Trouble, Written
from controller.camera.protocol import Camera
from controller.decide.exposure import Triple
from controller.decide.safe_interval import Needs
from controller.decide.steady_beat import (
    FRAMES,
    Run,
    Taken,
    cause_of,
    failed_s,
    held_s,
    judged,
    next_interval,
    tolerance_s,
)
from controller.words.bodies import BeatFound, kinds_of
from controller.words.clock import Clock
from controller.words.errors import CameraError, Conflict

Tell = Callable[[Run], None]

_LEAD_S = 0.5  # wall seconds from the orders of a run to its first release
_WORD_S = 60.0  # wall seconds after a run in which each frame is written, or told to be lost
_LOOK_S = 0.5
_FIRST = 10_000  # below the numbers of any other frames that belong to no slot


def _no_tell(run: Run) -> None: ...


class SteadyBeat:
    """`heard` is given all that the camera reports. The frames' numbers are below 0; they stay on the card.

    `go_on` is asked between frames whether the camera may still be used; `tell` is told of each run.
    """

    def __init__(
        self,
        camera: Camera,
        clock: Clock,
        directory: Path,
        go_on: Callable[[], bool] = lambda: True,
        tell: Tell = _no_tell,
    ) -> None:
        self._camera, self._clock, self._directory, self._go_on, self._tell = camera, clock, directory, go_on, tell
        self._reports: asyncio.Queue[Report] = asyncio.Queue()
        self._ordered, self._released = _FIRST, 0
        self._exposure_s = 0.0
        self._files: list[str] = []

    def heard(self, report: Report) -> bool:
        """Whether a report is of one of these frames."""
        seq = getattr(report, "seq", None)
        ours = seq is not None and seq < 0
        if ours or isinstance(report, Gone):
            self._reports.put_nowait(report)
        return ours

    async def find(self, exposure: Triple, needs: Needs | None) -> BeatFound:
        """The shortest interval that the camera holds with an exposure; `needs` is what is known of it.

        Raises CameraError where the camera is lost, its card full, or no frame came; Conflict where it may not go on.
        """
        self._exposure_s = exposure.shutter_s
        runs: list[Run] = []
        while (interval_s := next_interval(runs, self._exposure_s, needs)) is not None:
            runs.append(await self._run(exposure, interval_s))
            self._tell(runs[-1])
        failed = failed_s(runs)
        if not self._files:
            what = f"no frame came to the card: {cause_of(runs, failed)}"
            raise CameraError("no-test-frame", what, self._camera.id, "Look at the camera, and try again")
        return BeatFound(
            utc=self._clock.utc(),
            files=kinds_of(self._files),
            exposure_s=self._exposure_s,
            held_s=held_s(runs),
            failed_s=failed,
            cause=cause_of(runs, failed),
            frames=self._released,
        )

    async def _run(self, exposure: Triple, interval_s: float) -> Run:
        """Frames at one interval; the first that is missed ends it."""
        clock = self._clock
        begin = clock.mono() + _LEAD_S * clock.rate
        frames = {}
        for n in range(FRAMES):
            self._ordered += 1
            frames[-self._ordered] = Taken(begin + n * interval_s)
        try:
            for seq, frame in frames.items():
                await self._camera.release(self._order(seq, frame.due, exposure, interval_s))
            until = clock.to_wall(begin + FRAMES * interval_s + exposure.shutter_s) + _WORD_S
            await self._follow(frames, until)
        finally:
            await self._take_back(frames)
        return Run(interval_s, judged(list(frames.values()), interval_s))

    def _order(self, seq: int, due: float, exposure: Triple, interval_s: float) -> Release:
        clock = self._clock
        return Release(
            seq=seq,
            due_mono=clock.to_wall(due),
            latest_mono=clock.to_wall(due + tolerance_s(interval_s)),
            shutter_s=exposure.shutter_s,
            aperture=0.0,
            iso=exposure.iso,
            exposure_s=exposure.shutter_s / clock.rate,
            fetch="preview",
            directory=str(self._directory),
            stem=f"beat-{-seq}",
        )

    async def _follow(self, frames: dict[int, Taken], until_wall: float) -> None:
        """Take in what is told of these frames, until all are written, missed or lost."""
        clock = self._clock
        taken_back = False
        while any(frame.written is None and not frame.cause for frame in frames.values()):
            if not self._go_on():
                what = "a shoot has begun, and its frames come first"
                raise Conflict("shoot-has-camera", what, self._camera.id, "Try again after its end")
            if clock.to_wall(clock.mono()) > until_wall:
                for seq, frame in frames.items():
                    if frame.written is None and not frame.cause:
                        frames[seq] = replace(frame, cause="nothing was heard of it in time")
                return
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(_LOOK_S):
                    self._take(frames, await self._reports.get())
            if not taken_back and any(frame.released is None and frame.cause for frame in frames.values()):
                taken_back = True
                await self._take_back(frames)

    def _take(self, frames: dict[int, Taken], report: Report) -> None:
        clock = self._clock
        if isinstance(report, Gone):
            raise CameraError(report.code, report.what, self._camera.id, report.remedy)
        seq = getattr(report, "seq", None)
        if seq not in frames:
            return
        match report:
            case Settled():
                self._exposure_s = report.shutter_s
            case Released():
                self._released += 1
                frames[seq] = replace(frames[seq], released=clock.from_wall(report.at_mono))
            case Written():
                self._files = report.camera_files or self._files
                frames[seq] = replace(frames[seq], written=clock.from_wall(report.at_mono))
            case Missed():
                frames[seq] = replace(frames[seq], cause=report.cause)
            case Trouble(code="card-full"):
                raise CameraError(report.code, report.what, self._camera.id, report.remedy)
            case Trouble(code="no-file"):
                frames[seq] = replace(frames[seq], cause=report.what)

    async def _take_back(self, frames: dict[int, Taken]) -> None:
        """The orders that wait for their release."""
        for seq, frame in frames.items():
            if frame.released is None and not frame.cause:
                with contextlib.suppress(CameraError):  # lost: nothing is released any more
                    await self._camera.cancel(seq)
