"""What tests of hand-overs share: the command, a short shoot, and what a folder is read by."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from controller.commands import main
from controller.words.documents import FrameState
from tests.results.dusk import SHOOT
from tests.results.handover_rig import fetched, fill, frame

NAME = f"{SHOOT}-{{:06d}}"


def hand_over(rig: Path, to: Path | str, *more: str) -> int:
    return main(["hand-over", "last", "--dir", str(rig), "--to", str(to), *more])


def process(rig: Path, to: Path, *more: str, under: list[str] | None = None) -> list[str]:
    command = [sys.executable, "-m", "controller", "hand-over", "last", "--dir", str(rig), "--to", str(to), *more]
    return [*(under or []), *command]


def told(capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(capsys.readouterr().out)
    return made


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def sums_hold(folder: Path) -> bool:
    command = ["sha256sum", "--check", "--strict", "--quiet", "SHA256SUMS"]
    return subprocess.run(command, cwd=folder, capture_output=True, check=False).returncode == 0


def files(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def short_rig(tmp_path: Path) -> Path:
    """Six frames on the rig, two of them pairs; one on the card, one missed."""
    rig = tmp_path / "rig"
    frames = [fetched(rig, seq) for seq in range(1, 5)]
    frames += [fetched(rig, seq, ".JPG", ".NEF") for seq in (5, 6)]
    frames += [
        frame(7),
        frame(8, state=FrameState.MISSED, released_utc=None, camera_file=None, cause='held, "by hand"'),
    ]
    fill(rig, frames)
    return rig


PICTURES = {f"pictures/{NAME.format(seq)}.JPG" for seq in range(1, 7)}
PICTURES |= {f"pictures/{NAME.format(seq)}.NEF" for seq in (5, 6)}
LISTS = {"README.txt", "SHA256SUMS", "frames.csv", "frames.parquet", "hand-over.json", "missing.csv", "plan.toml"}
LISTS |= {"report.html"}
