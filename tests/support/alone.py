"""`duskhand serve` as a program of its own, without a camera, for tests of what it answers."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

NOWHERE = "ptpip:127.0.0.1:1:1"
"""An address where no camera is."""


@contextmanager
def served_alone(directory: Path, *options: str) -> Iterator[str]:
    """The address of a service on `directory`, whose own words go to `log` there."""
    command = [sys.executable, "-m", "controller", "serve", "--dir", str(directory), "--port", "0"]
    command += ["--camera", NOWHERE, *options]
    with (directory / "log").open("w") as log:
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=log, text=True)
    assert process.stdout is not None
    try:
        yield process.stdout.readline().split()[2].rstrip("/")
    finally:
        process.terminate()
        process.wait(30)
        process.stdout.close()
