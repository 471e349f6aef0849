"""What the service's imports cost before it is ready: seconds of the processor, by package, beside a bare Python.

`python -m tests.bench.imports [ROUNDS]` (5) loads what `duskhand serve` loads, each time in a process of its own, and
prints the median of Python's own `-X importtime`: what each package's modules take themselves, the dearest first.
Last stand those that Duskhand runs with and a service does not load, since a rare order or another process does.
"""

from __future__ import annotations

import re
import statistics
import subprocess
import sys
import time
from collections import defaultdict
from importlib.metadata import packages_distributions

from tests.bench.rigs import machine, ratio

SERVE = "import sys, api.server, controller.daemon, controller.commands.serve, controller.commands.service"
RARE = (
    "apprise",
    "asyncssh",
    "av",
    "botocore",
    "gpiozero",
    "matplotlib",
    "prometheus_client",
    "pyarrow",
    "rawpy",
    "segno",
)
SHOWN = 12


def took(code: str, rounds: int) -> float:
    """Median seconds of a process that runs so much, by the wall."""
    found = []
    for _ in range(rounds):
        began = time.monotonic()
        subprocess.run([sys.executable, "-c", code], check=True)
        found.append(time.monotonic() - began)
    return statistics.median(found)


def by_package() -> dict[str, float]:
    """Milliseconds that each package's own lines took, of modules that are in no package under Python."""
    told = subprocess.run([sys.executable, "-X", "importtime", "-c", SERVE], capture_output=True, text=True, check=True)
    known = {*packages_distributions(), "controller", "api"}
    found: dict[str, float] = defaultdict(float)
    for own_us, name in re.findall(r"^import time: +(\d+) \| +\d+ \| +(\S+)$", told.stderr, re.M):
        package = name.partition(".")[0]
        found[package if package in known else "Python itself"] += int(own_us) / 1000
    return found


def main(rounds: int) -> None:
    print(machine())
    bare_s, serve_s = took("pass", rounds), took(SERVE, rounds)
    print(f"bare Python    {1000 * bare_s:.0f} ms\nthe service    {1000 * serve_s:.0f} ms, {ratio(serve_s, bare_s)}")
    each = [by_package() for _ in range(rounds)]
    middle = {name: statistics.median(one.get(name, 0.0) for one in each) for name in {n for one in each for n in one}}
    for name, spent_ms in sorted(middle.items(), key=lambda pair: -pair[1])[:SHOWN]:
        print(f"  {name:20} {spent_ms:6.1f} ms, {100 * spent_ms / sum(middle.values()):4.1f} % of all imports")
    code = f"{SERVE}; print(*(name for name in {RARE} if name not in sys.modules))"
    late = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    at_once = ", ".join(sorted(set(RARE) - set(late))) or "none of these"
    print(f"loaded late, if at all: {', '.join(late)}; at once: {at_once}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
