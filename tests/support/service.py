"""The real service for tests and measurements: `duskhand serve` over a simulated camera, each a process of its own."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Self

from controller.words.clock import ScaledClock
from tests.support.simcam import SimulatedCamera, start_simulated_camera

Document = dict[str, Any]
_PROJECT = Path(__file__).parents[2]


class Client:
    """What a service at `url` is asked over REST."""

    def __init__(self, url: str) -> None:
        self.url = url

    def get(self, path: str) -> Any:
        with urllib.request.urlopen(self.url + path, timeout=60) as answer:
            return json.load(answer)

    def post(self, path: str, body: Document) -> Any:
        request = urllib.request.Request(
            self.url + path, json.dumps(body).encode(), {"Content-Type": "application/json"}, method="POST"
        )
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.load(answer)

    def wait_for_camera(self) -> None:
        while not all(camera["connected"] for camera in self.get("/api/v1/cameras")):
            time.sleep(0.1)

    def shoot(self, document: Document) -> str:
        return str(self.post("/api/v1/shoots", {"plan": document})["id"])

    def wait_for_end(self, shoot: str) -> Document:
        while (now := self.get(f"/api/v1/shoots/{shoot}"))["state"] not in ("done", "stopped", "failed"):
            time.sleep(0.5)
        return dict(now)

    def frames(self, shoot: str) -> list[Document]:
        rows: list[Document] = []
        while batch := self.get(f"/api/v1/shoots/{shoot}/frames?after={rows[-1]['seq'] if rows else 0}&limit=500"):
            rows.extend(batch)
        return rows


class Service(Client):
    """A running `duskhand serve` over simulated cameras; `under` is put before the command.

    With a `clock` it runs by that one, over one camera; the file `off` says by how many seconds that is put.
    Without `wait` it may not be ready yet: see `ready`.
    """

    def __init__(
        self,
        directory: Path,
        *cameras: SimulatedCamera,
        under: Sequence[str] = (),
        clock: ScaledClock | None = None,
        off: Path | None = None,
        wait: bool = True,
    ) -> None:
        command = [*under, sys.executable, "-m", "controller", "serve", "--dir", str(directory), "--port", "0"]
        command += [word for camera in cameras for word in ("--camera", camera.address)]
        if clock is not None:
            numbers = (repr(value) for value in (clock.rate, clock.epoch_mono, clock.epoch_utc))
            program = [sys.executable, "-m", "tests.support.fast_service", str(directory)]
            command = [*under, *program, cameras[0].address, *numbers, *([] if off is None else [str(off)])]
        self.log = (directory.parent / "serve.log").open("a")
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=self.log, text=True, cwd=_PROJECT)
        if wait:
            self.ready()

    def ready(self) -> None:
        """Wait until it serves."""
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        if "serves http" not in line:
            raise RuntimeError(f"duskhand serve said {line!r}; see {self.log.name}")
        self.url = line.split()[2].rstrip("/")

    def pids(self) -> list[int]:
        """The daemon and its camera process."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        return [self.process.pid, *map(int, children)]

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.returncode is None:
            self.stop()

    def kill(self) -> None:
        """As a power cut would end it."""
        self.process.kill()
        self._reap()

    def stop(self) -> int:
        """End it in good order; its exit status."""
        self.process.terminate()
        try:
            return self.process.wait(60)
        finally:
            self.process.kill()
            self._reap()

    def _reap(self) -> None:
        self.process.wait()
        self.log.close()
        if self.process.stdout:
            self.process.stdout.close()


@contextlib.contextmanager
def rig(directory: Path, **camera: Any) -> Iterator[tuple[Service, SimulatedCamera]]:
    """A simulated camera and a service over it, both ended on the way out."""
    with start_simulated_camera(directory, **camera) as simulated, Service(directory / "rig", simulated) as service:
        service.wait_for_camera()
        yield service, simulated
