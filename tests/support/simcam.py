"""The simulated camera for tests: a process of its own, started for one test and stopped with it."""

from __future__ import annotations

import json
import signal
import socket
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

_PROJECT = Path(__file__).parents[2]


@dataclass
class SimulatedCamera:
    """A running simulated camera; a context manager that stops it."""

    process: subprocess.Popen[str]
    port: int
    event_port: int
    control_port: int
    address: str
    card: Path
    record_file: Path

    def control(self, do: str, **fields: Any) -> dict[str, Any]:
        """Send one command to the control port; raises ValueError where the camera answers with an error."""
        with socket.create_connection(("127.0.0.1", self.control_port), timeout=60) as sock:
            sock.sendall(json.dumps({"do": do, **fields}).encode() + b"\n")
            answer: dict[str, Any] = json.loads(sock.makefile().readline())
        if "error" in answer:
            raise ValueError(answer["error"])
        return answer

    def record(self) -> list[dict[str, Any]]:
        """The camera's own truth: every exposure that it took, over all its runs on this card."""
        if not self.record_file.exists():
            return []
        return [json.loads(line) for line in self.record_file.read_text().splitlines()]

    def stop(self) -> int:
        """End the process in good order; its exit status."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        try:
            status = self.process.wait(timeout=20)
        finally:
            self.process.kill()
            if self.process.stdout:
                self.process.stdout.close()
            if self.process.stdin:
                self.process.stdin.close()
        return status

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()


def start_simulated_camera(tmp_path: Path, **options: Any) -> SimulatedCamera:
    """Start one whose card and record lie under `tmp_path` (a second start there sees the same card).

    Options are those of the command line with underscores (`rate=60`, `files="raw+jpeg"`); True gives a bare flag.
    Pictures are 320 × 216 unless `size` says otherwise. It ends by itself if the test's process dies.
    """
    card, record = tmp_path / "card", tmp_path / "record.jsonl"
    wanted = {"card": card, "record": record, "size": "320x216", "exit_with_stdin": True, **options}
    command = [sys.executable, "-m", "controller.simulated"]
    for name, value in wanted.items():
        if value is not False and value is not None:
            command.append("--" + name.replace("_", "-") + ("" if value is True else f"={value}"))
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=_PROJECT)
    assert process.stdout
    line = process.stdout.readline()
    if not line:
        raise RuntimeError(f"the simulated camera ended with {process.wait()}: {' '.join(command)}")
    ready = json.loads(line)
    return SimulatedCamera(process=process, card=card, record_file=record, **ready)
