"""The whole demo, from the order to the clip: is every frame there, and how long does it take?

`python -m tests.bench.demo`: the command itself, with a window of the scene as its plan has it. The floor is the time
that the window alone lasts at the demo's rate. Exit status 1 where a frame is missing.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from importlib import resources
from itertools import islice
from pathlib import Path
from typing import Any

from controller.commands.demo import DEFAULT_RATE, EVENING_UTC
from controller.decide.plan import read_plan
from controller.decide.schedule import windows
from tests.bench.rigs import machine, ratio

DUSKHAND = (sys.executable, "-c", "import sys; from controller.commands import main; sys.exit(main())")


def told(directory: Path, *words: str) -> Any:
    command = [*DUSKHAND, *words, "--dir", str(directory), "--json"]
    return json.loads(subprocess.run(command, stdout=subprocess.PIPE, check=True).stdout)


def main() -> int:
    plan = read_plan(resources.files("controller.commands").joinpath("demo_evening.toml").read_text("utf-8"))
    (window,) = islice(windows(plan, EVENING_UTC), 1)
    assert window.stop_utc is not None
    floor_s = (window.stop_utc - window.start_utc) / DEFAULT_RATE
    print(machine())
    with tempfile.TemporaryDirectory() as name:
        directory, began = Path(name) / "demo", time.monotonic()
        command = [*DUSKHAND, "demo", "--no-browser", "--port", "0", "--dir", str(directory)]
        subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True)
        took_s = time.monotonic() - began
        rows = told(directory, "frames", "last")
        films = [path.stat().st_size for path in directory.rglob("*.mp4")]
    got = sum(row["state"] == "fetched" for row in rows)
    print(f"slots             {len(rows)}, {got} fetched, {sum(row['state'] == 'missed' for row in rows)} missed")
    print(f"films             {', '.join(f'{size / 1e6:.1f} MB' for size in films)}")
    print(f"start to clip     {took_s:.0f} s; the window alone {floor_s:.0f} s, {ratio(took_s, floor_s)}")
    return 0 if rows and got == len(rows) and films else 1


if __name__ == "__main__":
    sys.exit(main())
