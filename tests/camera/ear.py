"""A listener that keeps what it hears, and orders as the engine gives them."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, TypeVar

from controller.camera.link import CameraLink
from controller.camera.messages import CardFile, Opened, Release, Report
from controller.words.errors import CameraError
from controller.words.stops import true_aperture

R = TypeVar("R")

FIFTH_S = 2 ** (-7 / 3)  # "1/5" is 0.198 s
WIDE = true_aperture(2.8)


class Ear:
    """Reports in the order in which they came."""

    def __init__(self) -> None:
        self.reports: list[Report] = []
        self._news = asyncio.Event()

    async def hear(self, report: Report) -> None:
        self.reports.append(report)
        self._news.set()

    def all(self, kind: type[R]) -> list[R]:
        return [report for report in self.reports if isinstance(report, kind)]

    def of(self, kind: type[R]) -> dict[int, R]:
        """The last report of a kind for each slot."""
        return {report.seq: report for report in self.all(kind)}  # type: ignore[attr-defined]

    async def until(self, true: Callable[[], Any], within_s: float = 60.0) -> None:
        """Wait until something holds; fails with all that was heard."""
        ends = time.monotonic() + within_s
        while not true():
            self._news.clear()
            left = ends - time.monotonic()
            assert left > 0, "\n".join(str(report)[:200] for report in self.reports)
            try:
                await asyncio.wait_for(self._news.wait(), min(left, 0.5))
            except TimeoutError:
                continue

    async def count(self, kind: type[Report], number: int, within_s: float = 60.0) -> None:
        await self.until(lambda: len(self.all(kind)) >= number, within_s)


@asynccontextmanager
async def connected(address: str, **options: Any) -> AsyncIterator[tuple[CameraLink, Ear]]:
    """A link with an open session, closed at the end."""
    link, ear = CameraLink(address, **options), Ear()
    link.listen(ear.hear)
    await link.start()
    try:
        await ear.count(Opened, 1)
        yield link, ear
    finally:
        await link.stop()


async def listed(link: CameraLink, within_s: float = 60.0) -> list[CardFile]:
    """The card as a new session tells it; asked again where the session was lost or had no time, as the engine does."""
    async with asyncio.timeout(within_s):
        while True:
            try:
                return await link.files(fresh=True)
            except CameraError as error:
                if not error.retryable:
                    raise
            await asyncio.sleep(0.5)


def order(seq: int, due_mono: float, directory: Path, **changes: Any) -> Release:
    """1/5 s, f/2.8, ISO 100, everything fetched, released however late on a busy machine, unless changed."""
    fields = {
        "seq": seq,
        "due_mono": due_mono,
        "latest_mono": due_mono + 10.0,
        "shutter_s": FIFTH_S,
        "aperture": WIDE,
        "iso": 100.0,
        "fetch": "all",
        "directory": str(directory),
        "stem": f"{seq:06d}",
        **changes,
    }
    return Release(**{"exposure_s": fields["shutter_s"], **fields})


async def shoot(link: CameraLink, orders: list[Release], ahead_s: float = 0.25) -> None:
    """Hand orders over one at a time, each a little before it is due."""
    for each in orders:
        await asyncio.sleep(max(0.0, each.due_mono - ahead_s - time.monotonic()))
        await link.release(each)
