"""What a press of a Canon EOS's button saves against libgphoto2's capture call, on the simulated body.

`python -m tests.bench.press [FRAMES]`: 1 s interval, each frame written 0.95 s after its exposure.
"""

from __future__ import annotations

import asyncio
import json
import sys
import tempfile
import time
from pathlib import Path

from controller.camera.messages import Missed, Released, Written
from tests.bench.rigs import machine, percentile, ratio
from tests.camera.ear import connected, order, shoot
from tests.support.simcam import start_simulated_camera

BODY = "Simulated camera DH-0001"


async def main(frames: int) -> None:
    print(machine())
    found = []
    for name in ("trigger_capture", "Press Full MF"):
        with tempfile.TemporaryDirectory() as directory:
            found.append(await _one(name, frames, Path(directory)))
    plain, pressed = found
    print(f"pressed beside that call: call {ratio(pressed[0], plain[0])}, shutter {ratio(pressed[1], plain[1])}")


async def _one(name: str, frames: int, directory: Path) -> tuple[float, float]:
    """Print figures of a way; its medians of the call and of the shutter after due, ms."""
    kept = directory / "kept"
    kept.mkdir()
    (kept / "release.json").write_text(json.dumps({BODY: name}))
    with start_simulated_camera(directory, maker="canon", files="raw+jpeg", write=0.95) as camera:
        async with connected(camera.address, settings=kept) as (link, ear):
            start = time.monotonic() + 0.5
            due = [start + n for n in range(1, frames + 1)]
            rig = directory / "rig"
            await shoot(link, [order(n, at, rig, shutter_s=1 / 64, fetch="none") for n, at in enumerate(due, 1)])
            await ear.until(lambda: len(ear.of(Written)) + len(ear.all(Missed)) == frames)
        record = camera.record()
    released, written = ear.of(Released), ear.of(Written)
    calls = [1000 * each.call_s for each in released.values()]
    opened = [1000 * (shot["released_mono"] - due[seq - 1]) for seq, shot in zip(released, record, strict=True)]
    told = [each.at_mono - released[seq].at_mono for seq, each in written.items()]
    pairs = sum(len(each.camera_files) == 2 for each in written.values())
    print(f"{name}: {len(released)} of {frames} released, {pairs} pairs")
    print(f"  call               p50 {percentile(calls, 0.5):.1f} ms, p99 {percentile(calls, 0.99):.1f} ms")
    print(f"  shutter after due  p50 {percentile(opened, 0.5):.2f} ms, p99 {percentile(opened, 0.99):.2f} ms")
    print(f"  files told after   p50 {percentile(told, 0.5):.2f} s, p99 {percentile(told, 0.99):.2f} s")
    return percentile(calls, 0.5), percentile(opened, 0.5)


if __name__ == "__main__":
    asyncio.run(main(int(sys.argv[1]) if len(sys.argv) > 1 else 60))
