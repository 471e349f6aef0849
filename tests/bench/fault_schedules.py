"""Shoots through faults drawn by a number: does every one go on, and does the log tell what the camera did?

`python -m tests.bench.fault_schedules [--schedules 100] [--frames 200] [--seed 1] [--jobs 2]`: each schedule is a
process of its own and prints a line when it is through. `--one` runs a single one here, with the service's log. Exit
status 1 where one was not well.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import json
import logging
import sys
import tempfile
import time
from collections import defaultdict
from dataclasses import asdict
from pathlib import Path

from tests.bench.outcomes import print_sums
from tests.bench.rigs import machine, percentile
from tests.support.fault_schedule import Outcome, draw, shoot_through

MAKERS = ("generic", "nikon", "canon")


def parser() -> argparse.ArgumentParser:
    out = argparse.ArgumentParser(prog="python -m tests.bench.fault_schedules", description=__doc__)
    out.add_argument("--schedules", type=int, default=100)
    out.add_argument("--frames", type=int, default=200)
    out.add_argument("--seed", type=int, default=1, help="of the first schedule; the next ones count upwards")
    out.add_argument("--jobs", type=int, default=2)
    out.add_argument("--one", action="store_true", help="the schedule of --seed alone, in this process")
    out.add_argument(
        "--keep", type=Path, help="keep here what tells of those that were not well; with --one its directory"
    )
    return out


def main() -> int:
    args = parser().parse_args()
    if args.one:
        return _one(args.seed, args.frames, args.keep)
    outcomes = asyncio.run(_all(args))
    _summary(outcomes, args)
    return 0 if len(outcomes) == args.schedules and all(outcome.well for outcome in outcomes) else 1


def _one(seed: int, frames: int, keep: Path | None) -> int:
    logging.basicConfig(level=logging.INFO, stream=sys.stderr, format="%(asctime)s %(name)s %(levelname)s %(message)s")
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    with contextlib.ExitStack() as stack:
        if keep is None:
            directory = stack.enter_context(tempfile.TemporaryDirectory(prefix=f"faults-{seed}-"))
        else:
            (keep / str(seed)).mkdir(parents=True)
            directory = str(keep / str(seed))
        outcome = asyncio.run(shoot_through(draw(seed, frames, makers=MAKERS), Path(directory)))
    print(json.dumps(asdict(outcome)), flush=True)
    return 0 if outcome.well else 1


async def _all(args: argparse.Namespace) -> list[Outcome]:
    free, outcomes = asyncio.Semaphore(args.jobs), list[Outcome]()

    async def run(seed: int) -> None:
        async with free:
            command = ["-m", "tests.bench.fault_schedules", "--one", f"--seed={seed}", f"--frames={args.frames}"]
            process = await asyncio.create_subprocess_exec(
                sys.executable, *command, stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.PIPE
            )
            out, errors = await process.communicate()
        lines = out.decode().splitlines()
        outcome = Outcome(**json.loads(lines[-1])) if lines else Outcome(seed, trouble=["its process broke"])
        outcomes.append(outcome)
        print(_line(outcome), flush=True)
        if not outcome.well and args.keep is not None:
            args.keep.mkdir(parents=True, exist_ok=True)
            (args.keep / f"{seed}.log").write_bytes(errors)
            (args.keep / f"{seed}.json").write_text(json.dumps(asdict(outcome), indent=1))

    await asyncio.gather(*(run(seed) for seed in range(args.seed, args.seed + args.schedules)))
    return outcomes


def _line(o: Outcome) -> str:
    wrong = [*o.log_lacks, *o.camera_lacks, *o.misplaced, *o.trouble]
    return (
        f"{o.seed:5d}  {'well' if o.well else 'NOT WELL'}  {o.took_s:6.1f} s  {o.slots} slots: {o.done} on the card, "
        f"{o.missed} missed, {o.lost} lost; camera took {o.taken}; {'; '.join([f'{len(o.faults)} faults', *wrong])}"
    )


def _summary(outcomes: list[Outcome], args: argparse.Namespace) -> None:
    print(machine())
    back: dict[str, list[float]] = defaultdict(list)
    for outcome in outcomes:
        for kind, _, seconds in outcome.faults:
            back[kind].append(seconds)
    print(f"schedules         {sum(o.well for o in outcomes)} of {args.schedules} well, {args.frames} frames each")
    print_sums(outcomes)
    print("fault             number, seconds until a frame was released again: median, most")
    for kind, seconds in sorted(back.items()):
        print(f"  {kind:<15} {len(seconds):4d}  {percentile(seconds, 0.5):6.1f}  {max(seconds):6.1f}")


if __name__ == "__main__":
    begun = time.monotonic()
    status = main()
    print(f"{time.monotonic() - begun:.0f} s", file=sys.stderr)
    sys.exit(status)
