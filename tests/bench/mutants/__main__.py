"""Whether the tests notice small faults in what decides: a sample of faults, each before the tests that run its line.

`python -m tests.bench.mutants [COUNT] [NUMBER] [--jobs N] [--known DIRECTORY] [--only FILE …] [--most SECONDS]`

Half of COUNT (400) is drawn, by NUMBER (1), from the files that decide slots, half from all others of
`controller/decide`. First, coverage.py (`pip install coverage`) tells which test runs which line; `--known` keeps that,
or takes it from there.
A fault is shown the tests that run its line, the quickest first, until they have taken `--most` (60) seconds. After
every fortieth fault its tests run without any: these must all pass. Each fault that no test noticed is printed.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import random
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from collections import Counter
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.bench.mutants.changes import Change, changes
from tests.bench.mutants.trials import ALIVE, KILLED, Trial, Trials

ROOT = Path(__file__).parents[3]
SLOTS = ("step", "pace", "exposure", "follow", "meter", "schedule", "sun", "turnover", "ramp", "bracket")
"""What decides each slot."""
SLOW = (
    "tests/decide/test_follow_bench.py", "tests/decide/test_plan_fuzz.py", "tests/decide/advice/test_any_plan.py",
    "tests/decide/test_two_years.py", "tests/decide/test_ephemeris.py",
)  # fmt: skip
"""Tests that take minutes; what only they notice counts as not noticed."""
TESTS = ("tests/decide", *(f"--ignore={path}" for path in SLOW))
QUIET = ("-q", "-p", "no:randomly", "-p", "no:cacheprovider")
SETTINGS = """[run]
branch = true
source = controller
relative_files = true
"""


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.mutants", description=__doc__)
    parser.add_argument("count", nargs="?", type=int, default=400)
    parser.add_argument("number", nargs="?", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--known", type=Path)
    parser.add_argument("--only", nargs="*", metavar="FILE", help="files of controller/decide")
    parser.add_argument("--most", type=float, default=60.0, metavar="SECONDS")
    args = parser.parse_args()
    if find_spec("coverage") is None:
        print("python -m tests.bench.mutants: coverage.py is missing; .venv/bin/pip install coverage", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as scratch:
        os.environ["TMPDIR"] = scratch
        known = args.known or Path(scratch)
        if not (known / "lines.json").exists():
            _learn(known)
        return _try(args, json.loads((known / "lines.json").read_text()))


def _learn(known: Path) -> None:
    """Which tests run which lines, and for how long each runs, into `known/lines.json`."""
    known.mkdir(parents=True, exist_ok=True)
    if not (known / "coverage").exists():
        (known / "settings").write_text(SETTINGS)
        with_contexts = ["-m", "coverage", "run", f"--rcfile={known / 'settings'}", f"--data-file={known / 'coverage'}"]
        tests = [
            "-m",
            "pytest",
            "-p",
            "tests.bench.mutants.contexts",
            *TESTS,
            *QUIET,
            f"--junitxml={known / 'tests.xml'}",
        ]
        subprocess.run([sys.executable, *with_contexts, *tests], cwd=ROOT, check=True)
    from coverage import CoverageData  # by name: a tool, not a library of ours

    data = CoverageData(str(known / "coverage"))
    data.read()
    lines = {
        file: dict(data.contexts_by_lineno(file))
        for file in data.measured_files()
        if file.startswith("controller/decide")
    }
    taken_s = {
        f"{(case.get('classname') or '').replace('.', '/')}.py::{case.get('name')}": float(case.get("time") or 0)
        for case in ElementTree.parse(known / "tests.xml").getroot().iter("testcase")
        if not list(case)  # neither failed nor left out
    }
    (known / "lines.json").write_text(json.dumps({"lines": lines, "taken_s": taken_s}))


def _drawn(every: list[Change], count: int, number: int) -> list[Change]:
    slots = [c for c in every if _decides_slots(c)]
    others = [c for c in every if not _decides_slots(c)]
    chance = random.Random(number)
    chosen = [c for these in (slots, others) for c in chance.sample(these, min(len(these), count // 2))]
    print(f"{len(every)} faults are possible, {len(slots)} where slots are decided; {len(chosen)} drawn by {number}")
    chance.shuffle(chosen)
    return chosen


def _decides_slots(change: Change) -> bool:
    path = Path(change.file)
    return path.parent.name == "decide" and (path.stem in SLOTS or path.stem.startswith("passed"))


def _tests(change: Change, known: dict[str, dict], most_s: float) -> tuple[tuple[str, float], ...] | None:  # type: ignore[type-arg]
    lines = known["lines"].get(change.file, {})
    found = {context for line in range(change.line, change.last + 1) for context in lines.get(str(line), [])}
    for line in range(change.line, 0, -1):  # of a `continue` the interpreter tells nothing, but of what is before it
        found = found or set(lines.get(str(line), []))
    if change.within is None:  # a constant: whatever runs its file
        found = {context for contexts in lines.values() for context in contexts}
    elif found == {""}:  # runs as its module is read: before any fault can be put there
        return None
    taken = known["taken_s"]  # without "", what runs as a module is read
    ordered = sorted((taken[name], name) for name in found if name in taken)
    tests, sum_s = [], 0.0
    for taken_s, node in ordered:
        sum_s += taken_s
        if sum_s > most_s and tests:
            break
        tests.append((node, taken_s))
    return tuple(tests)


def _try(args: argparse.Namespace, known: dict[str, dict]) -> int:  # type: ignore[type-arg]
    files = sorted((ROOT / "controller/decide").rglob("*.py"))
    every = [c for file in files for c in changes(file, str(file.relative_to(ROOT)))]
    if args.only:
        every = [c for c in every if Path(c.file).name in args.only]
    trials, left_out = [], 0
    for place, change in enumerate(_drawn(every, args.count, args.number)):
        tests = _tests(change, known, args.most)
        if tests is None:
            left_out += 1
            continue
        trials.append(Trial(change, tests))
        if place % 40 == 0 and tests:
            trials.append(Trial(None, tests))
    print(f"{left_out} left out, which run as their module is read")
    results: Counter[tuple[bool, str]] = Counter()
    wrong = []

    def told(trial: Trial, result: str, said: str) -> None:
        if trial.change is None:
            if result != ALIVE:
                wrong.append(said)
            return
        results[_decides_slots(trial.change), result] += 1
        sys.__stderr__.write(
            f"{result:8} {trial.change}  [{len(trial.tests)} tests] {said if result != ALIVE else ''}\n"
        )

    files_needed = sorted({node.partition("::")[0] for trial in trials for node, _ in trial.tests})
    pytest.main([*QUIET, "-W", "ignore", *files_needed], plugins=[Trials(ROOT, trials, args.jobs, told)])
    for slots in (True, False):
        n = sum(k for (where, _), k in results.items() if where is slots)
        killed = results[slots, KILLED]
        if n:
            low, high = _wilson(killed, n)
            others = ", ".join(
                f"{r} {k}" for (where, r), k in sorted(results.items()) if where is slots and r != KILLED
            )
            where = "slots" if slots else "all else"
            print(f"{where}: {killed} of {n} noticed, {killed / n:.1%} ({low:.1%} to {high:.1%} with 95 %); {others}")
    print(f"without a fault {len(wrong)} of {sum(t.change is None for t in trials)} failed {' '.join(wrong)}")
    return 1 if wrong else 0


def _wilson(k: int, n: int) -> tuple[float, float]:
    """Wilson's score interval of a share at 95 % (Wilson, Journal of the American Statistical Association 22, 1927)."""
    z, p = 1.959964, k / n
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    return (middle - half) / (1 + z * z / n), (middle + half) / (1 + z * z / n)


if __name__ == "__main__":
    sys.exit(main())
