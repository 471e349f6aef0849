"""Every figure of this project, one program after the other: `python -m tests.bench [NAME …] [--all] [--list]`.

Without names those that take a few minutes each, half an hour in all; `--all` those of hours too. What each prints is
passed on as it comes, under the command that shows it again. Exit status 1 where one of them failed.
"""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import sys
import time
from importlib.metadata import version
from pathlib import Path

LIBRARIES = (
    "gphoto2", "apscheduler", "fastapi", "uvicorn", "pydantic", "astral", "numpy", "pillow", "av", "rawpy",
)  # fmt: skip

ELSEWHERE = {"soak": "tests.soak"}
"""Programs that stand in a folder of their own."""

COUNTED = {
    "any_request": "answers and faults are counted",
    "branches": "branches are counted",
    "disk_errors": "frames are counted",
    "fault_schedules": "frames are counted",
    "follow": "an oracle and a reactive controller stand in each row",
    "held": "a test's own bound is the floor",
    "link_lost": "the outage itself is the floor",
    "mutants": "faults are counted",
    "soak": "frames are counted",
    "steadying": "nothing, and a moving average, stand in each row",
    "weather": "what was drawn is known",
}
"""Those that print no ratio to a floor, and why."""

SHORT = {
    "deciding": "deciding, forecasts, metering, beside a floor",
    "metering": "metering and tone curves, beside Pillow and OpenCV",
    "sun": "sun and moon against JPL's DE421",
    "windows": "windows of two years against JPL's DE421",
    "rehearsal": "a rehearsal beside the bare walk of what decides",
    "frame_overhead": "a frame beside a bare loop of libgphoto2 calls",
    "throughput": "frames a second beside the same loop",
    "release_floor": "lateness beside a bare sleeper",
    "press": "what a Canon EOS's button saves",
    "load 30": "processor, memory and start-up beside floors",
    "messages 5": "the process of a message beside an empty one",
    "copies 5": "copies to second places beside a plain copy",
    "anew 20000": "a log made anew beside reading it",
    "imports": "what the service's imports cost, beside a bare Python",
    "log_writes": "a frame's rows beside bare inserts of SQLite",
    "log_pages 100000": "pages of a long log beside bare rows",
    "hand_over 100000": "a long log handed over, and pictures beside cp and sha256sum",
    "report_size 100000": "the report of a long log",
    "steadying": "flicker before and after steadying, beside two baselines",
    "clip_speed": "frames a second of a clip beside ffmpeg",
    "clip_memory": "memory of a clip of ten thousand frames",
    "clip_sources": "what a picture of each source costs, beside Pillow",
    "exif": "an exposure read back from each kind of RAW file, beside the DNG",
    "first_look 2": "the page's first look on one bar of Wi-Fi",
    "listeners 10 2": "what a phone that looks costs the rig",
    "series_year 5000": "frames of a year chosen for a film, beside reading them",
    "weather": "fog, drops and night told on drawn frames, or on a photograph",
    "steady_beat": "the beat that a body holds, beside paper",
}
LONG = {
    "demo": "the whole demo beside its window",
    "held": "figures that tests hold to their bounds",
    "soak": "a compressed fortnight",
    "follow": "exposures over 151 scenes",
    "cadence": "lateness under web traffic beside a bare sleeper",
    "films_beside": "lateness while films are made beside a bare sleeper",
    "half_second": "1,200 frames at half a second",
    "memory": "memory over a thousand frames",
    "skew": "two cameras beside two bare processes",
    "sleeping_body": "a body that sleeps between releases",
    "back": "how soon frames come again after a loss",
    "million": "a million frames through engine and log",
    "link_lost": "the page after its link was lost",
    "any_request 10000 2": "requests that are made up by chance",
    "branches": "branches of the program that the tests run",
    "mutants": "small faults in what decides that the tests notice",
    "fault_schedules": "a hundred shoots through faults",
    "kills": "five hundred kills",
    "power_cuts": "fifty cuts of the disk's power",
    "disk_errors 12": "a disk that refuses",
}


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help="these alone; see --list")
    parser.add_argument("--all", action="store_true", help="those that take long, too; some hours")
    parser.add_argument("--list", action="store_true", help="name them, and end")
    args = parser.parse_args()
    every = {**SHORT, **LONG}
    if args.list:
        for words, about in every.items():
            print(f"{words.split()[0]:18}{about}{'' if words in SHORT else ' (long)'}")
        return 0
    by_name = {words.split()[0]: words for words in every}
    if unknown := [name for name in args.names if name not in by_name]:
        print(f"python -m tests.bench: there is no {unknown[0]}; see --list", file=sys.stderr)
        return 2
    chosen = [by_name[name] for name in args.names] or list(every if args.all else SHORT)
    print(_machine(), flush=True)
    failed = [words for words in chosen if not _run(words)]
    print(f"\n{len(chosen) - len(failed)} of {len(chosen)} done{''.join(f'; failed: {words}' for words in failed)}")
    return 1 if failed else 0


def _run(words: str) -> bool:
    begun = time.monotonic()
    name, *more = words.split()
    module = ELSEWHERE.get(name, f"tests.bench.{name}")
    print(f"\n== python -m {' '.join([module, *more])}", flush=True)
    status = subprocess.run([sys.executable, "-m", module, *more], check=False).returncode
    print(f"-- {time.monotonic() - begun:.0f} s{f', ended with {status}' if status else ''}", flush=True)
    return status == 0


def _machine() -> str:
    model = [
        line for line in Path("/proc/cpuinfo").read_text().splitlines() if line.startswith(("model name", "Model"))
    ]
    ffmpeg = subprocess.run(["ffmpeg", "-version"], capture_output=True, text=True, check=False).stdout.split()[2:3]
    return "\n".join(
        (
            f"{time.strftime('%Y-%m-%d %H:%M')}, {platform.platform()}, Python {platform.python_version()}",
            f"{os.cpu_count()} cores, {model[0].partition(':')[2].strip() if model else platform.machine()}, load"
            f" {os.getloadavg()[0]:.1f}",
            ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
            + f", ffmpeg {''.join(ffmpeg) or 'not installed'}",
        )
    )


if __name__ == "__main__":
    sys.exit(main())
