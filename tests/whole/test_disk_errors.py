"""The rig's disk refuses for a while: releases go on, nothing is torn, and everything comes right afterwards."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.parametrize("kind", ["errors", "read-only"])
def test_releases_go_on_and_nothing_is_lost(kind: str):
    """A program of its own, since it mounts a disk in a mount namespace of its own; its long form is for measuring."""
    command = [sys.executable, "-m", "tests.bench.disk_errors", "5", kind]
    done = subprocess.run(command, capture_output=True, text=True, cwd=Path(__file__).parents[2], check=False)
    if done.returncode == 2:
        pytest.skip(done.stderr.strip())
    assert done.returncode == 0, done.stdout + done.stderr
    released = int(done.stdout.partition(" frames released meanwhile")[0].rpartition(" ")[2])
    assert released > 0
    assert "The frame log cannot be written" in done.stdout
