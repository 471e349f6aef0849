"""What `duskhand serve` says, run as a user runs it."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

NOWHERE = "ptpip:127.0.0.1:1:1"
THEIRS = ("uvicorn", "connect cmd", "controller.")


def said(directory: Path, *options: str, words: tuple[str, ...] = ()) -> tuple[list[str], list[str]]:
    """Lines of standard output, and those of standard error until the camera is told to be away and all `words` are
    said, which come from several processes in no order, and at the end."""
    command = [sys.executable, "-m", "controller", "serve", "--dir", str(directory), "--port", "0"]
    with subprocess.Popen(
        [*command, "--camera", NOWHERE, *options], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stderr is not None
        log = []
        while not all(word in "".join(log) for word in ("does not answer", *words)):
            log.append(process.stderr.readline())
            assert log[-1], log
        process.terminate()
        out, rest = process.communicate(timeout=60)
        assert process.returncode == 0
    return out.splitlines(), [line.strip() for line in log] + rest.splitlines()


def test_a_user_reads_the_address_and_what_happens_and_nothing_of_the_libraries(tmp_path: Path):
    out, log = said(tmp_path)
    assert re.fullmatch(r"Duskhand serves http://127\.0\.0\.1:\d+/ from .+", out[0])
    assert not [line for line in out + log for word in THEIRS if word in line]
    away, end = log
    assert re.match(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d camera-1: the camera at ptpip:127\.0\.0\.1:1:1 does not ans", away)
    assert "Switch it on" in away
    assert "Duskhand ends" in end


def test_technical_lines_are_there_for_who_asks(tmp_path: Path):
    _, log = said(tmp_path, "--verbose", words=THEIRS)
    assert [word for word in THEIRS if word not in "\n".join(log)] == []


def test_a_power_command_that_is_not_there_is_refused_in_one_line(tmp_path: Path):
    command = [sys.executable, "-m", "controller", "serve", "--dir", str(tmp_path / "rig")]
    command += ["--power-cycle", "no-such-program-anywhere 2"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert "--power-cycle" in done.stderr
    assert not (tmp_path / "rig").exists()
