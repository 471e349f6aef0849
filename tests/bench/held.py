"""Figures that a test holds to their bound, and prints nowhere: are they held?

`python -m tests.bench.held [WORDS]`: all of them, a line each, or those whose line has the words. What a file of tests
measures stands in it, with its bound and its source. Exit status 1 where one failed.
"""

from __future__ import annotations

import re
import subprocess
import sys
import time
from pathlib import Path

from tests.bench.rigs import machine

ROOT = Path(__file__).parents[2]

HELD = {
    "clock steps of ±1 s, ±1 h, ±10 years: every interval as planned": (
        "tests/rehearsal/test_clock_steps.py tests/whole/test_rig_time.py tests/whole/test_clock.py"
        " tests/engine/test_chores.py"
    ),
    "200 slow clients, and others answered meanwhile": "tests/api/test_attacks.py",
    "the demo against its rehearsal: within a third of a stop on 95 % of frames": "tests/whole/test_rehearsed.py",
    "metering through libgphoto2: within 0.15 EV of the camera's own": "tests/whole/test_metering.py",
    "blur: how much sharpness each radius leaves": "tests/decide/health/test_pictures.py",
    "the reader of plans: 10,500 documents, each refused in one line or sensible": "tests/decide/test_plan_fuzz.py",
    "a full disk: releases go on, nothing torn": "tests/whole/test_disk_full.py",
    "bytes of a frame's row, and of a row of copies": "tests/store/test_frame_log.py tests/engine/test_copying.py",
    "kB and requests of the page": "tests/web/test_files.py tests/web/test_form.py",
    "a decoded clip beside ffmpeg's own: PSNR and bytes": "tests/results/test_film.py",
    "a clip's memory, reckoned from small ones": "tests/results/test_clip_memory.py",
    "wheels for 64-bit ARM": "tests/test_wheels.py",
}


def main(words: str) -> int:
    print(machine())
    wrong = 0
    for figure, files in HELD.items():
        if words not in figure:
            continue
        began = time.monotonic()
        command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *files.split()]
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
        said = re.findall(r"^(\d+ .*) in [\d.]+s", done.stdout, re.M)
        wrong += done.returncode != 0
        held = "held" if done.returncode == 0 else "NOT HELD"
        print(f"{held:9} {figure}: {said[-1] if said else 'it broke'}, {time.monotonic() - began:.0f} s", flush=True)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(" ".join(sys.argv[1:])))
