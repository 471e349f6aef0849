"""The service killed, and the power of its disk cut, at random moments: every frame is known, and shooting goes on.

`tests/bench/kills.py` and `tests/bench/power_cuts.py` are the long form.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.endings import Endings, draw, shoot_through
from tests.support.service import Service


def well(result: Endings, ends: int) -> None:
    outcome = result.outcome
    assert outcome.well, [*outcome.log_lacks, *outcome.camera_lacks, *outcome.misplaced, *outcome.trouble]
    assert (result.ends, outcome.state) == (ends, "stopped")
    assert outcome.done > 0


def test_killed_again_and_again(tmp_path: Path):
    well(shoot_through(draw(3), tmp_path, tmp_path / "rig", 3, Service.kill), 3)


def test_power_cut_again_and_again(tmp_path: Path):
    """A program of its own, since it mounts a disk in a mount namespace of its own."""
    command = [sys.executable, "-m", "tests.bench.power_cuts", "--one", "--seed=2", "--each=3"]
    done = subprocess.run(command, capture_output=True, text=True, cwd=Path(__file__).parents[2], check=False)
    if done.returncode == 2:
        pytest.skip(done.stderr.strip())
    well(Endings.of(json.loads(done.stdout.splitlines()[-1])), 3)
