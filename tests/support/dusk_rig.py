"""A whole rig at dusk as a process of its own, before a simulated camera: for the page's tests.

The same wiring as `duskhand demo`, but it goes on after a shoot has ended.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import json
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx

from tests.support.rigs import EVENING_UTC, LATITUDE, LONGITUDE, Evening
from tests.support.simcam import SimulatedCamera

ENDED = ("done", "stopped", "failed")

PLAN: dict[str, Any] = {
    "name": "quay-at-dusk",
    "site": {"latitude": LATITUDE, "longitude": LONGITUDE, "timezone": "Europe/Stockholm"},
    "when": {"start": "now", "duration": "4h"},  # and 20 to 29 s, however late in the evening a test begins
    "pace": {"kind": "sun", "points": [[1, 20.0], [-6, 26.0], [-12, 29.0]], "min_gap_s": 1.0},
    "light": {"kind": "follow", "shutter_s": [0.0005, 15.0], "iso": [100, 3200], "aperture": [2.8, 2.8]},
    "files": {"fetch": "preview"},
}


@dataclass
class DuskRig:
    """A running rig: its address, its process (to be stopped or killed by a test), its camera, its directory."""

    url: str
    process: subprocess.Popen[str]
    camera: SimulatedCamera
    directory: Path

    async def call(self, method: str, path: str, **arguments: Any) -> Any:
        """One call of the rig, which must do what is asked; its JSON."""
        async with httpx.AsyncClient(timeout=60) as client:
            answer = await client.request(method, f"{self.url}api/v1/{path}", **arguments)
        assert answer.is_success, answer.text
        return answer.json() if answer.content else None

    async def until(self, wanted: Callable[[dict[str, Any]], bool], within_s: float = 60) -> dict[str, Any]:
        """Wait until `now` is as wanted; that `now`."""
        end = time.monotonic() + within_s
        while True:
            now: dict[str, Any] = await self.call("GET", "now")
            if wanted(now):
                return now
            assert time.monotonic() < end, now
            await asyncio.sleep(0.1)

    async def until_state(self, *states: str) -> dict[str, Any]:
        """Wait until the shoot is in one of the states."""
        return await self.until(lambda now: now["shoot"] is not None and now["shoot"]["state"] in states)

    async def until_frames(self, count: int) -> dict[str, Any]:
        """Wait until the running shoot has so many frames."""
        return await self.until(lambda now: now["frames_done"] >= count, 90)

    async def end(self) -> None:
        """End whatever runs, and forget every plan."""
        running = [shoot for shoot in await self.call("GET", "shoots") if shoot["state"] not in ENDED]
        for shoot in running:
            await self.call("POST", f"shoots/{shoot['id']}/stop")
        if running:
            await self.until_state(*ENDED)
        for plan in await self.call("GET", "plans"):
            await self.call("DELETE", f"plans/{plan['name']}")

    async def shoot(self, **changes: Any) -> str:
        """End whatever runs, start the plan and wait for its first frames; the id of the shoot."""
        await self.end()
        started = await self.call("POST", "shoots", json={"plan": PLAN | changes})
        await self.until(lambda now: now["shoot"]["id"] == started["id"] and now["last_frame"] is not None)
        await self.until_state("shooting")
        return str(started["id"])


@contextlib.contextmanager
def dusk_rig(directory: Path, *, rate: float = 30.0, utc: float = EVENING_UTC, **camera: Any) -> Iterator[DuskRig]:
    """Start a rig and its camera; from `utc` on their evenings run `rate` times faster than the wall. End both."""
    evening = Evening(rate, utc)
    with evening.camera(directory, **camera) as simulated:
        command = [sys.executable, "-m", "tests.support.dusk_rig", str(directory / "rig"), simulated.address]
        command += [repr(rate), repr(evening.clock.epoch_mono), repr(utc)]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert process.stdout
        try:
            line = process.stdout.readline()
            if not line:
                raise RuntimeError(f"the rig ended with {process.wait()}")
            yield DuskRig(json.loads(line)["url"], process, simulated, directory / "rig")
        finally:
            process.send_signal(signal.SIGCONT)
            process.terminate()
            try:
                process.wait(timeout=20)
            finally:
                process.kill()
                process.stdout.close()


async def _serve(directory: Path, address: str, rate: float, epoch_mono: float, utc: float) -> None:
    from controller.commands.service import on_signal, serving, start_log
    from controller.daemon import Rig
    from controller.words.clock import ScaledClock

    start_log()
    stop = asyncio.Event()
    on_signal(stop)
    clock = ScaledClock(utc, epoch_mono, rate)
    async with serving(Rig(directory, clock, [address]), "127.0.0.1", 0) as server:
        print(json.dumps({"url": server.url}), flush=True)
        await stop.wait()


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("directory", type=Path)
    parser.add_argument("address")
    parser.add_argument("rate", type=float)
    parser.add_argument("epoch_mono", type=float)
    parser.add_argument("utc", type=float)
    given = parser.parse_args()
    asyncio.run(_serve(given.directory, given.address, given.rate, given.epoch_mono, given.utc))
