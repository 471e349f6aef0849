"""What a bundle tells of the machine and of the programs on it."""

from __future__ import annotations

import platform
import sqlite3
import subprocess
import sys
from importlib.metadata import distributions, version
from pathlib import Path
from typing import Any

_ASKED_S = 20.0
_MOST_BYTES = 4_000_000


def versions(root: Path = Path("/")) -> dict[str, Any]:
    """Of Duskhand, of what it stands on, and of the machine."""
    return {
        "duskhand": version("duskhand"),
        "python": sys.version,
        "sqlite": sqlite3.sqlite_version,
        "libgphoto2": _libgphoto2(),
        "machine": platform.machine(),
        "kernel": platform.release(),
        "system": _line(root / "etc/os-release", "PRETTY_NAME="),
        "model": _text(root / "proc/device-tree/model"),
        "packages": {each.name: each.version for each in sorted(distributions(), key=lambda each: each.name.lower())},
    }


def _libgphoto2() -> str:
    try:
        import gphoto2

        return str(gphoto2.gp_library_version(gphoto2.GP_VERSION_SHORT)[0])
    except (ImportError, AttributeError, OSError) as error:
        return f"cannot be asked: {error}"


def journal(unit: str) -> str:
    """The unit's last lines; a text that says so where there is no journal, or none for this user."""
    return _said("journalctl", "--unit", unit, "--lines", "3000", "--no-pager", "--output", "short-iso")


def kernel_usb() -> str:
    """The kernel's lines about USB since the machine was started."""
    said = _said("journalctl", "--dmesg", "--no-pager", "--output", "short-iso", "--lines", "20000")
    lines = [line for line in said.splitlines() if "usb" in line.lower()]
    if not lines:
        said = _said("dmesg", "--ctime")
        lines = [line for line in said.splitlines() if "usb" in line.lower()]
    return "\n".join(lines) or f"no line about USB: {said[:200]}"


def unit_properties(unit: str) -> str:
    """How often it was started, why it ended."""
    wanted = "ActiveState,SubState,Result,NRestarts,ExecMainStatus,ExecMainCode,ActiveEnterTimestamp,MemoryPeak"
    return _said("systemctl", "show", unit, "--property", wanted)


def sizes(directory: Path) -> dict[str, int]:
    """Bytes of the files in the rig's directory itself."""
    return {path.name: path.stat().st_size for path in sorted(directory.iterdir()) if path.is_file()}


def _said(*command: str) -> str:
    try:
        done = subprocess.run(command, capture_output=True, timeout=_ASKED_S, check=False)
    except (OSError, subprocess.SubprocessError) as error:
        return f"{command[0]} cannot be asked: {error}"
    text = done.stdout[-_MOST_BYTES:].decode(errors="replace")
    return text if done.returncode == 0 else f"{text}{done.stderr.decode(errors='replace')}"


def _text(path: Path) -> str | None:
    try:
        return path.read_text(errors="replace").strip("\0\n")
    except OSError:
        return None


def _line(path: Path, start: str) -> str | None:
    lines = (_text(path) or "").splitlines()
    return next((line[len(start) :].strip('"') for line in lines if line.startswith(start)), None)
