"""The simulated camera's program, given what it cannot use."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--card", "/proc/x"], "--card /proc/x: No such file or directory. Give a directory that can be written"),
        (["--card", "/dev/null"], "--card /dev/null: Not a directory. Give a directory that can be written"),
        (["--card", "{}", "--record", "/proc/x"], "--record /proc/x: No such file or directory. Give a file"),
        (["--card", "{}", "--port", "70000"], "cannot listen: "),
    ],
)
def test_one_line_and_exit_code_2(tmp_path: Path, options: list[str], says: str) -> None:
    command = [sys.executable, "-m", "controller.simulated", *(option.format(tmp_path) for option in options)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith(f"python -m controller.simulated: {says}")
