"""Memory and time of the process that sends a message: `python -m tests.bench.messages [COUNT]`.

The far side is an HTTP server on this machine; the floor is the same process with nothing to do.
"""

from __future__ import annotations

import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.aside.test_message import far_side, told
from tests.bench.rigs import ratio


def run(task: dict[str, object], count: int) -> tuple[float, float]:
    """Median seconds, and the largest resident memory of any so far, megabytes."""
    took = []
    for _ in range(count):
        began = time.monotonic()
        command = [sys.executable, "-m", "controller.aside", str(os.getpid())]
        subprocess.run(command, input=json.dumps(task).encode(), stdout=subprocess.DEVNULL, check=True)
        took.append(time.monotonic() - began)
    return statistics.median(took), resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as directory, far_side() as server:
        file = told(Path(directory), f"json://127.0.0.1:{server.server_port}/")
        task = {"job": "message", "file": file, "title": "a", "body": "b", "picture": None}
        floor_s, floor_mb = run({**task, "file": str(Path(directory) / "nothing")}, count)
        took_s, mb = run(task, count)
        assert len(server.bodies) == count
    print(f"floor (refused, nothing loaded): {floor_s:.2f} s, {floor_mb:.0f} MB")
    print(f"a message: {took_s:.2f} s, {ratio(took_s, floor_s)}; {mb:.0f} MB, {ratio(mb, floor_mb)}, which end with it")


if __name__ == "__main__":
    main()
