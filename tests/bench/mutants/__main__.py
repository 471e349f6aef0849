"""Whether the tests notice small faults in what decides: a sample of faults, each before the tests that run its line.

`python -m tests.bench.mutants [COUNT] [NUMBER] [--of PATH …] [--within FUNCTION …] [--tests PATH …] [--jobs N]
[--known DIRECTORY] [--most SECONDS]`

Half of COUNT (400) is drawn, by NUMBER (1), from the files that decide slots, half from all others of
`controller/decide`; with `--of`, all of it from those files and folders. First, coverage.py (`pip install coverage`)
tells which test runs which line; `--known` keeps that, or takes it from there.
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
from collections.abc import Sequence
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
    parser.add_argument("--of", nargs="+", metavar="PATH", help="files and folders to draw from, below controller")
    parser.add_argument("--within", nargs="+", metavar="FUNCTION", help="draw from these functions alone")
    parser.add_argument("--tests", nargs="+", default=TESTS, metavar="PATH", help="which may notice; tests/decide")
    parser.add_argument("--most", type=float, default=60.0, metavar="SECONDS")
    args = parser.parse_args()
    if find_spec("coverage") is None:
        print("python -m tests.bench.mutants: coverage.py is missing; .venv/bin/pip install coverage", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as scratch:
        os.environ["TMPDIR"] = scratch
        known = args.known or Path(scratch)
        if not (known / "lines.json").exists():
            _learn(known, args.tests)
        return _try(args, json.loads((known / "lines.json").read_text()))


def _learn(known: Path, of: Sequence[str]) -> None:
    """Which tests run which lines, and for how long each runs, into `known/lines.json`."""
    known.mkdir(parents=True, exist_ok=True)
    if not (known / "coverage").exists():
        (known / "settings").write_text(SETTINGS)
        with_contexts = ["-m", "coverage", "run", f"--rcfile={known / 'settings'}", f"--data-file={known / 'coverage'}"]
        told = ["-p", "tests.bench.mutants.contexts", f"--junitxml={known / 'tests.xml'}"]
        tests = ["-m", "pytest", *told, *of, *QUIET]
        subprocess.run([sys.executable, *with_contexts, *tests], cwd=ROOT, check=True)
    from coverage import CoverageData  # by name: a tool, not a library of ours

    data = CoverageData(str(known / "coverage"))
    data.read()
    lines = {file: dict(data.contexts_by_lineno(file)) for file in data.measured_files()}
    taken_s = {
        f"{(case.get('classname') or '').replace('.', '/')}.py::{case.get('name')}": float(case.get("time") or 0)
        for case in ElementTree.parse(known / "tests.xml").getroot().iter("testcase")
        if not list(case)  # neither failed nor left out
    }
    (known / "lines.json").write_text(json.dumps({"lines": lines, "taken_s": taken_s}))


def _every(args: argparse.Namespace) -> list[list[Change]]:
    """Every fault that is possible: where slots are decided, and elsewhere; or all those that are asked for."""
    paths = [ROOT / path for path in args.of or ("controller/decide",)]
    files = [file for path in paths for file in (sorted(path.rglob("*.py")) if path.is_dir() else (path,))]
    every = [change for file in files for change in changes(file, str(file.relative_to(ROOT)))]
    if args.within:
        every = [change for change in every if change.within in args.within]
    if args.of:
        return [every]
    return [[change for change in every if _decides_slots(change) is slots] for slots in (True, False)]


def _drawn(every: list[list[Change]], count: int, number: int) -> list[Change]:
    chance = random.Random(number)
    chosen = [c for these in every for c in chance.sample(these, min(len(these), count // len(every)))]
    print(f"{sum(map(len, every))} faults are possible; {len(chosen)} drawn by {number}")
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
    trials, left_out = [], 0
    for place, change in enumerate(_drawn(_every(args), args.count, args.number)):
        tests = _tests(change, known, args.most)
        if tests is None:
            left_out += 1
            continue
        trials.append(Trial(change, tests))
        if place % 40 == 0 and tests:
            trials.append(Trial(None, tests))
    print(f"{left_out} left out, which run as their module is read")
    results: Counter[tuple[str, str]] = Counter()
    wrong = []

    def told(trial: Trial, result: str, said: str) -> None:
        if trial.change is None:
            if result != ALIVE:
                wrong.append(said)
            return
        results[trial.change.file, result] += 1
        sys.__stderr__.write(
            f"{result:8} {trial.change}  [{len(trial.tests)} tests] {said if result != ALIVE else ''}\n"
        )

    files_needed = sorted({node.partition("::")[0] for trial in trials for node, _ in trial.tests})
    pytest.main([*QUIET, "-W", "ignore", *files_needed], plugins=[Trials(ROOT, trials, args.jobs, told)])
    for file in (*sorted({file for file, _ in results}), ""):
        of_file = Counter[str]()
        for (where, result), n in results.items():
            of_file[result] += n if file in ("", where) else 0
        killed, n = of_file.pop(KILLED, 0), of_file.total()
        _tell(file or "together", killed, killed + n, of_file)
    print(f"without a fault {len(wrong)} of {sum(t.change is None for t in trials)} failed {' '.join(wrong)}")
    return 1 if wrong else 0


def _tell(what: str, noticed: int, tried: int, others: Counter[str]) -> None:
    low, high = _wilson(noticed, max(tried, 1))
    share = f"{noticed / max(tried, 1):.1%} ({low:.1%} to {high:.1%} with 95 %)"
    print(
        f"{what}: {noticed} of {tried} noticed, {share}",
        *(f"{k} {result}" for result, k in sorted(others.items()) if k),
    )


def _wilson(k: int, n: int) -> tuple[float, float]:
    """Wilson's score interval of a share at 95 % (Wilson, Journal of the American Statistical Association 22, 1927)."""
    z, p = 1.959964, k / n
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    return (middle - half) / (1 + z * z / n), (middle + half) / (1 + z * z / n)


if __name__ == "__main__":
    sys.exit(main())
