"""The shortest interval that a steady beat finds, against what the simulated camera can hold on paper."""

from __future__ import annotations

import asyncio
import tempfile
from pathlib import Path

from controller.camera.link import CameraLink
from controller.camera.messages import Report
from controller.engine.looking import Looking
from controller.engine.turn import Turn
from controller.words.clock import WallClock
from tests.bench.rigs import machine, ratio
from tests.support.simcam import start_simulated_camera

EXPOSURE_S = 1 / 64
BODIES = (
    # maker, files, seconds to read out and to write, frames of buffer
    ("generic", "jpeg", 0.1, 0.6, 4),
    ("generic", "raw+jpeg", 0.3, 1.5, 20),
    ("nikon", "raw+jpeg", 0.3, 0.2, 1),
    ("nikon", "jpeg", 0.7, 0.2, 6),
    ("canon", "raw+jpeg", 0.1, 0.9, 6),
)


def on_paper_s(readout_s: float, write_s: float, buffer: int) -> float:
    """Read out, then written one after the other; a frame that is being written takes up a place of the buffer."""
    alone = EXPOSURE_S + readout_s
    return alone + write_s if buffer == 1 else max(alone, write_s)


async def find(maker: str, files: str, readout_s: float, write_s: float, buffer: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        options = {"maker": maker, "files": files, "readout": readout_s, "write": write_s, "buffer": buffer}
        with start_simulated_camera(Path(name), epoch_utc="2026-10-20T16:20:00Z", **options) as camera:
            link = CameraLink(camera.address)
            looking = Looking([link], {link.id: Turn()}, WallClock(), Path(name) / "rig")

            async def heard(report: Report) -> None:
                looking.heard(link.id, report)

            link.listen(heard)
            await link.start()
            try:
                while link.opened is None:
                    await asyncio.sleep(0.1)
                found = await looking.beat(link.id, EXPOSURE_S, None)
            finally:
                await link.stop()
    paper_s = on_paper_s(readout_s, write_s, buffer)
    what = f"{maker}, {files}: {readout_s} s to read out, {write_s} s to write, buffer of {buffer}"
    against = "nothing" if found.held_s is None else ratio(found.held_s, paper_s)
    print(f"{what}: on paper {paper_s:.2f} s, held {found.held_s} s, {against}, failed {found.failed_s} s,"
          f" {found.frames} frames")  # fmt: skip


if __name__ == "__main__":
    print(machine())
    for body in BODIES:
        asyncio.run(find(*body))
