"""What the programs of abrupt ends share: many shoots, each drawn by a number and a process of its own."""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import json
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from tests.bench.outcomes import print_sums
from tests.bench.rigs import machine, percentile, ratio
from tests.support.endings import Endings
from tests.support.fault_schedule import Outcome

One = Callable[[int, int, Path], Endings]
"""Seed, ends, and a directory for it."""


def main(module: str, about: str, one: One, ends: int, each: int) -> int:
    """The program `module`: so many `ends` in all, `each` in one shoot."""
    parser = argparse.ArgumentParser(prog=f"python -m {module}", description=about)
    parser.add_argument("--ends", type=int, default=ends, help="in all (%(default)s)")
    parser.add_argument("--each", type=int, default=each, help="in one shoot (%(default)s)")
    parser.add_argument("--seed", type=int, default=1, help="of the first shoot; the next ones count upwards")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="keep here the directories of those that were not well")
    parser.add_argument("--one", action="store_true", help="the shoot of --seed alone, in this process")
    args = parser.parse_args()
    if args.one:
        with tempfile.TemporaryDirectory(prefix="ends-") as directory:
            result = one(args.seed, args.each, Path(directory))
            if args.keep is not None and not result.outcome.well:
                shutil.copytree(directory, args.keep / str(args.seed), dirs_exist_ok=True)
        print(json.dumps(result.document()), flush=True)
        return 0 if result.outcome.well else 1
    results: list[Endings] = []
    with contextlib.suppress(KeyboardInterrupt):  # what is done by then is summed up
        asyncio.run(_all(module, args, results))
    _summary(results)
    return 0 if all(result.outcome.well for result in results) else 1


async def _all(module: str, args: argparse.Namespace, results: list[Endings]) -> None:
    free = asyncio.Semaphore(args.jobs)

    async def run(seed: int) -> None:
        command = [sys.executable, "-m", module, "--one", f"--seed={seed}", f"--each={args.each}"]
        command += [] if args.keep is None else [f"--keep={args.keep}"]
        async with free:
            process = await asyncio.create_subprocess_exec(*command, stdout=asyncio.subprocess.PIPE)
            out, _ = await process.communicate()
        lines = out.decode().splitlines()
        broken = Endings(Outcome(seed, trouble=["its process broke"]))
        result = Endings.of(json.loads(lines[-1])) if lines else broken
        results.append(result)
        print(_line(result), flush=True)

    await asyncio.gather(*(run(seed) for seed in range(args.seed, args.seed + -(-args.ends // args.each))))


def _line(result: Endings) -> str:
    o = result.outcome
    wrong = [*o.log_lacks, *o.camera_lacks, *o.misplaced, *o.trouble]
    return (
        f"{o.seed:5d}  {'well' if o.well else 'NOT WELL'}  {o.took_s:6.1f} s  {result.ends} ends, {o.slots} slots: "
        f"{o.done} on the card, {o.missed} missed, {o.lost} lost; camera took {o.taken}; {'; '.join(wrong)}"
    )


def _summary(results: list[Endings]) -> None:
    outcomes = [result.outcome for result in results]
    print(machine())
    print(f"ends              {sum(r.ends for r in results)}")
    print(f"shoots            {len(results)}, of which well {sum(o.well for o in outcomes)}")
    print_sums(outcomes)
    print(f"other trouble     {sum(len(o.trouble) for o in outcomes)}")
    middle_s = 0.0  # of the bare start, the floor
    for name, values in (
        ("bare start", [s for r in results for s in r.bare_s]),
        ("start to ready", [s for r in results for s in r.ready_s]),
        ("start to shutter", [s for r in results for s in r.back_s]),
    ):
        if values:
            shares = "  ".join(f"p{share * 100:g} {percentile(values, share):.2f} s" for share in (0.5, 0.95, 0.99))
            middle_s = middle_s or percentile(values, 0.5)
            against = ratio(percentile(values, 0.5), middle_s)
            print(f"{name:17} {len(values)}: {shares}  most {max(values):.2f} s  {against}")
