"""Branches of the program that the tests run, by package.

`python -m tests.bench.branches [PYTEST ARGUMENT …]`: coverage.py (`pip install coverage`) beside the tests, those of a
browser and those that run alone left out, or beside what the arguments name; processes of the program are measured too.
Printed are branches run of all, statements and branches together, and with `--files N` the files that lack most. Three
quarters of an hour for all.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections import defaultdict
from importlib.util import find_spec
from pathlib import Path

from tests.bench.rigs import machine

ROOT = Path(__file__).parents[2]
ALL = ("-n", "5", "-m", "not alone and not browser", "tests", "--ignore=tests/bench", "--ignore=tests/soak")
SETTINGS = """[run]
branch = true
parallel = true
source = controller,api
patch = subprocess,_exit
sigterm = true
concurrency = thread,multiprocessing
disable_warnings = no-data-collected
"""


def package_of(file: str) -> str:
    """`controller/engine`, `api`; files that lie in `controller` itself are under its name."""
    parts = Path(file).parts[:-1]
    return "/".join(parts[:2] if parts[0] == "controller" else parts[:1])


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.branches", description=__doc__)
    parser.add_argument("--files", type=int, default=0, metavar="N", help="name so many files that lack most")
    args, tests = parser.parse_known_args()
    if find_spec("coverage") is None:
        print("python -m tests.bench.branches: coverage.py is missing; .venv/bin/pip install coverage", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as name:
        settings, found = Path(name) / "settings", Path(name) / "found.json"
        settings.write_text(SETTINGS)
        environment = {**os.environ, "COVERAGE_RCFILE": str(settings), "COVERAGE_FILE": str(Path(name) / "data")}
        coverage = [sys.executable, "-m", "coverage"]

        def run(*words: str) -> int:
            return subprocess.run([*coverage, *words], cwd=ROOT, env=environment, check=False).returncode

        status = run("run", "-m", "pytest", "-q", "-p", "no:cacheprovider", *(tests or ALL))
        run("combine", "-q")
        run("json", "-q", "-o", str(found))
        told = json.loads(found.read_text())
    print(machine())
    sums: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for file, one in told["files"].items():
        sums[package_of(file)][0] += one["summary"]["covered_branches"]
        sums[package_of(file)][1] += one["summary"]["num_branches"]
    for package, (ran, there) in sorted(sums.items()):
        print(f"{package:24} {ran:5} of {there:5} branches{f', {100 * ran / there:.0f} %' if there else ''}")
    print(f"statements and branches together {told['totals']['percent_covered']:.1f} %")
    lacking = sorted(told["files"].items(), key=lambda pair: -pair[1]["summary"]["missing_branches"])
    for file, one in lacking[: args.files]:
        print(f"  {file}: {one['summary']['missing_branches']} branches not run")
    return status


if __name__ == "__main__":
    sys.exit(main())
