"""What measurements share."""

from __future__ import annotations

import os
import platform
from importlib.metadata import version
from pathlib import Path
from typing import Any


def plan(name: str, interval_s: float, shutter_s: float, frames: int, **more: Any) -> dict[str, Any]:
    """A steady plan with a fixed exposure, from now on."""
    return {
        "name": name,
        "site": {"latitude": 57.7, "longitude": 11.95},
        "when": {"start": "now", "frames": frames},
        "pace": {"kind": "steady", "interval_s": interval_s, "min_gap_s": 0.1},
        "light": {"kind": "fixed", "shutter_s": shutter_s, "aperture": 5.6, "iso": 400},
        **more,
    }


def resident_kb(pid: int | str) -> int:
    """Resident memory, kB (VmRSS)."""
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1])
    return 0


def used_s(pid: int) -> float:
    """Processor seconds of a process so far, user and system (proc(5))."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def percentile(values: list[float], share: float) -> float:
    """The value below which `share` of the values lie (nearest rank)."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def ratio(value: float, floor: float) -> str:
    """A figure against its floor of the same run."""
    return f"ratio {value / floor:.2f}" if floor > 0 else "the floor is nothing"


def machine() -> str:
    """What was measured on, in one line."""
    names = ("gphoto2", "fastapi", "uvicorn", "pydantic", "numpy")
    libraries = ", ".join(f"{name} {version(name)}" for name in names)
    return f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, {libraries}"
