"""A Raspberry Pi builds nothing: what Duskhand runs with is there as a wheel for 64-bit ARM.

pip resolves requirements.lock for that machine, whichever this one is, and installs nothing. The platform's tags are
those of PEP 600: glibc 2.28, older than that of any Raspberry Pi OS with Python 3.11.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

LOCK = Path(__file__).parent.parent / "requirements.lock"
EXTRAS = ("asyncssh", "botocore", "cffi", "cryptography", "gpiozero", "jmespath", "pyarrow")
"""What the extras of pyproject.toml add; the lock holds it in its second part, since the tests need it."""


def pins() -> list[str]:
    """The lock's requirements, of its first part and of the extras, each with its hashes."""
    to_run, _, to_check = LOCK.read_text("utf-8").partition("# ---- to check and test")
    each = re.compile(r"^\S+==(?:.*\\\n)*.*", re.MULTILINE)
    extras = [pin for pin in each.findall(to_check) if pin.startswith(tuple(f"{name}==" for name in EXTRAS))]
    assert len(extras) == len(EXTRAS)
    return [*each.findall(to_run), *extras]


def resolved(python: str, lines: list[str], directory: Path) -> list[dict[str, Any]]:
    """What pip would install of it on an ARM machine with that Python."""
    (directory / "pins.txt").write_text("\n".join(lines) + "\n", "utf-8")
    platforms = [f"--platform=manylinux_2_{minor}_aarch64" for minor in (28, 17)]
    # fmt: off
    command = [
        sys.executable, "-m", "pip", "install", "--quiet", "--dry-run", "--ignore-installed", "--no-deps",
        "--only-binary=:all:", "--implementation=cp", f"--python-version={python}", *platforms,
        f"--target={directory / 'nowhere'}", f"--report={directory / 'report.json'}", f"-r{directory / 'pins.txt'}",
    ]
    # fmt: on
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert not (directory / "nowhere").exists()
    return json.loads((directory / "report.json").read_text("utf-8"))["install"]


@pytest.mark.parametrize("python", ["3.11", "3.13"])
def test_every_package_has_a_wheel_for_arm(python: str, tmp_path: Path) -> None:
    lines = pins()
    wheels = [each["download_info"]["url"].rpartition("/")[2] for each in resolved(python, lines, tmp_path)]
    assert len(wheels) == len(lines)
    compiled = [name for name in wheels if not name.endswith("-any.whl")]
    assert [name for name in compiled if "aarch64" not in name] == []
    assert {"gphoto2", "numpy", "pillow", "av", "pydantic_core", "rawpy"} <= {name.split("-")[0] for name in compiled}


def test_a_package_for_other_machines_alone_is_found(tmp_path: Path) -> None:
    """Intel's mathematics for Intel's processors."""
    with pytest.raises(AssertionError, match="No matching distribution"):
        resolved("3.11", ["mkl==2024.0.0"], tmp_path)
