"""Frames that belong to no slot: of a bracket for the tone curve, or to test the exposure before a window."""

from __future__ import annotations

import asyncio
import contextlib
from dataclasses import dataclass
from pathlib import Path

from controller.camera.messages import Gone, Missed, Preview, Release, Released, Report, Settled, Trouble, Written
from controller.camera.protocol import Camera
from controller.decide.exposure import Triple, triple
from controller.words.clock import Clock
from controller.words.errors import CameraError

LEAD_S = 0.3  # wall seconds from an order to its release
_LATE_S, _ANSWER_S = 10.0, 20.0  # wall seconds


@dataclass(frozen=True, slots=True)
class Picture:
    """A frame's small picture, what the camera exposed it with, and when its middle was."""

    preview: Preview
    exposure: Triple
    mid_utc: float


class Beside:
    """Takes such frames with a camera that nobody else uses meanwhile; `heard` is given all that the camera reports.

    Their numbers are below 0. They stay on the card: `files` names them, as far as the camera told.
    """

    def __init__(self, camera: Camera, clock: Clock, directory: Path) -> None:
        self._camera, self._clock, self._directory = camera, clock, directory
        self._reports: asyncio.Queue[Report] = asyncio.Queue()
        self._taking = False  # else nobody takes what is put there, and a camera may be lost for months
        self._open: set[int] = set()
        self._through = asyncio.Event()  # nothing is in hand
        self._through.set()
        self.looking = False  # whether somebody is at it, who will note the files
        self.taken = 0
        self.files: list[str] = []
        self.trouble: str | None = None  # why the last one gave no picture

    async def through(self, seconds: float) -> None:
        """Wait until the camera has told of the files of those in hand, for so many wall seconds at most."""
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(seconds):
                await self._through.wait()

    def given_up(self) -> bool:
        """Nothing more will be told of those in hand: whether there were any, which may have left files on the card."""
        lost = bool(self._open)
        self._open.clear()
        self._through.set()
        return lost

    def heard(self, report: Report) -> bool:
        """Whether a report is of a frame that belongs to no slot."""
        seq = getattr(report, "seq", None)
        if self._taking and (isinstance(report, Gone) or (seq is not None and seq < 0)):
            self._reports.put_nowait(report)
        if seq is None or seq >= 0:
            return False
        if isinstance(report, Written):
            self.files.extend(path for path in report.camera_files if path not in self.files)
        if isinstance(report, Missed | Written):
            self._open.discard(seq)
            if not self._open:
                self._through.set()
        return True

    async def take(
        self,
        exposure: Triple,
        *,
        set_aperture: bool = False,
        late_s: float = _LATE_S,
        answer_s: float = _ANSWER_S,
    ) -> Picture | None:
        """Take one; None where it was missed, or no picture came in time: `trouble` says why.

        It is released within `late_s` wall seconds or not at all, and waited for until `answer_s` after its exposure.
        Raises CameraError where the camera is gone.
        """
        clock = self._clock
        self.taken += 1
        self.trouble = None
        seq, due_wall = -self.taken, clock.to_wall(clock.mono()) + LEAD_S
        order = Release(
            seq=seq,
            due_mono=due_wall,
            latest_mono=due_wall + late_s,
            shutter_s=exposure.shutter_s,
            aperture=exposure.aperture if set_aperture else 0.0,
            iso=exposure.iso,
            exposure_s=exposure.shutter_s / clock.rate,
            fetch="preview",
            directory=str(self._directory),
            stem=f"beside-{self.taken}",
        )
        self._reports, self._taking = asyncio.Queue(), True
        try:
            await self._camera.release(order)
            self._open.add(seq)
            self._through.clear()
            async with asyncio.timeout(LEAD_S + late_s + order.exposure_s + answer_s):
                return await self._picture(seq, exposure)
        except TimeoutError:
            self.trouble = "the camera sent no small picture in time"
            return None
        finally:
            self._taking = False

    async def _picture(self, seq: int, exposure: Triple) -> Picture | None:
        clock = self._clock
        released_utc = clock.utc() + LEAD_S * clock.rate
        while True:
            match await self._reports.get():
                case Gone() as gone:
                    raise CameraError(gone.code, gone.what, self._camera.id, gone.remedy)
                case report if getattr(report, "seq", None) != seq:
                    pass
                case Settled() as settled:
                    exposure = triple(settled.shutter_s, settled.aperture or exposure.aperture, settled.iso)
                case Released() as released:
                    released_utc = clock.utc() - (clock.mono() - clock.from_wall(released.at_mono))
                case Missed() as missed:
                    self.trouble = missed.cause
                    return None
                case Trouble() as trouble:
                    self.trouble = trouble.what
                case Preview() as preview:
                    return Picture(preview, exposure, released_utc + exposure.shutter_s / 2)
                case _:
                    pass
